"""Files that appear as a whole, or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard.log.whole_file import write_together, write_whole


def test_a_file_is_replaced_through_its_link_and_keeps_its_permissions(tmp_path: Path):
    """Nothing else stands in the folder afterwards."""
    real, link = tmp_path / "real", tmp_path / "link"
    real.write_bytes(b"old")
    real.chmod(0o640)
    link.symlink_to(real)
    write_whole(link, b"new", to_disk=True)
    assert link.is_symlink() and real.read_bytes() == b"new" and real.stat().st_mode & 0o777 == 0o640
    assert {path.name for path in tmp_path.iterdir()} == {"real", "link"}


def test_several_files_are_written_together_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """The disk is full at the second file: the first stays as it was, and what was begun is gone, new folders too."""
    (tmp_path / "a").write_bytes(b"old")
    files = {tmp_path / "a": b"new", tmp_path / "deep" / "er" / "b": b"new"}
    opened = Path.open

    def full(path: Path, *how: str) -> object:
        if path.parent.name == "er":
            raise OSError(28, "No space left on device", str(path))
        return opened(path, *how)

    with monkeypatch.context() as here:
        here.setattr(Path, "open", full)
        with pytest.raises(OSError, match="No space left"):
            write_together(files, make_folders=True)
    assert [path.name for path in tmp_path.rglob("*")] == ["a"] and (tmp_path / "a").read_bytes() == b"old"
    write_together(files, make_folders=True)
    assert [path.read_bytes() for path in files] == [b"new", b"new"]


def test_a_folder_that_is_missing_is_not_made_unasked(tmp_path: Path):
    """A mistyped path is an error."""
    with pytest.raises(FileNotFoundError):
        write_whole(tmp_path / "no" / "file", b"x")
    assert list(tmp_path.iterdir()) == []
