"""What was signed out is remembered, by all servers that share a folder, and not without end."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard.service.access import sign_outs
from dashboard.service.access.sign_outs import SignOuts


@pytest.fixture(params=["in a folder", "in memory"])
def kept(request: pytest.FixtureRequest, tmp_path: Path) -> SignOuts:
    return SignOuts(tmp_path / "signed-out" if request.param == "in a folder" else None)


def test_of_too_many_those_that_would_expire_last_are_remembered(kept: SignOuts, monkeypatch: pytest.MonkeyPatch):
    """A sign-in that would have expired is forgotten: it no longer counts anyway."""
    monkeypatch.setattr(sign_outs, "MOST_SIGNED_OUT", 3)
    for n in range(5):
        kept.add(f"s-{n}", 100 + n, now_s=10)
    assert [kept.holds(f"s-{n}", 100 + n) for n in range(5)] == [False, False, True, True, True]
    kept.add("s-9", 200, now_s=104)
    assert [kept.holds(f"s-{n}", 100 + n) for n in range(5)] == [False] * 5 and kept.holds("s-9", 200)


def test_servers_with_the_same_folder_see_it_at_once(tmp_path: Path):
    """Also one that is started later; the folder is for its owner alone."""
    folder = tmp_path / "keys.toml.signed-out"
    one, other = SignOuts(folder), SignOuts(folder)
    assert not other.holds("s", 100)
    one.add("s", 100, now_s=10)
    assert other.holds("s", 100) and SignOuts(folder).holds("s", 100)
    assert folder.stat().st_mode & 0o777 == 0o700


def test_what_cannot_be_kept_in_the_folder_counts_here_and_is_said(tmp_path: Path, caplog: pytest.LogCaptureFixture):
    """Signing out never fails for the person who signs out."""
    (tmp_path / "file").write_text("x")
    kept = SignOuts(tmp_path / "file")
    kept.add("s", 100, now_s=10)
    assert kept.holds("s", 100) and "cannot be saved" in caplog.text
