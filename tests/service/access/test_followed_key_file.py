"""A key file that is followed while the server runs."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard.core.base.problems import InputError
from dashboard.service.access.followed_key_file import FollowedKeyFile
from dashboard.service.access.key_file import add_key, revoke_keys


@pytest.fixture
def path(tmp_path: Path) -> Path:
    add_key(tmp_path / "keys.toml", "Ada Lee", "log")
    return tmp_path / "keys.toml"


def names(file: FollowedKeyFile) -> list[str]:
    return [entry.name for entry in file.now.entries if entry.revoked is None]


def test_a_change_counts_as_soon_as_it_is_looked_at(path: Path, caplog: pytest.LogCaptureFixture):
    """Added and revoked; each is said once in the server's own log."""
    file = FollowedKeyFile(path)
    add_key(path, "Bo Carr", "lead")
    file.look()
    assert names(file) == ["Ada Lee", "Bo Carr"]
    revoke_keys(path, "Ada Lee")
    file.look()
    file.look()
    assert names(file) == ["Bo Carr"]
    assert [record.getMessage().rpartition(": ")[2] for record in caplog.records] == ["2 keys count.", "1 key counts."]


@pytest.mark.parametrize("broken", ["[[key]]\nname = 3", "", None], ids=["not right", "empty", "gone"])
def test_a_broken_file_changes_nothing_and_says_so(path: Path, caplog: pytest.LogCaptureFixture, broken: str | None):
    """Once in the server's own log, with the place; on boards until it is right again."""
    file, good = FollowedKeyFile(path), path.read_text()
    path.write_text(broken) if broken is not None else path.unlink()
    file.look()
    file.look()
    assert names(file) == ["Ada Lee"]
    assert file.trouble is not None and "keys.toml" in file.trouble and str(path.parent) not in file.trouble
    assert len(caplog.records) == 1 and str(path) in caplog.text
    path.write_text(good)
    file.look()
    assert file.trouble is None and "read again" in caplog.records[-1].getMessage()


def test_a_file_that_cannot_be_read_at_the_start_is_refused(tmp_path: Path):
    """There is nothing to go on with."""
    with pytest.raises(InputError, match="no such file"):
        FollowedKeyFile(tmp_path / "keys.toml")


def test_a_file_without_keys_that_count_is_said(path: Path, caplog: pytest.LogCaptureFixture):
    """Everyone may then only watch."""
    revoke_keys(path, "Ada Lee")
    FollowedKeyFile(path)
    assert "no key that counts" in caplog.text
