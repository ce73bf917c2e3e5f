"""Writes files that appear as a whole, or not at all: a full disk or a crash leaves what was there before."""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path


def write_whole(path: Path, data: bytes, *, to_disk: bool = False) -> None:
    """Write one file.

    Parameters
    ----------
    path
        An existing file is replaced and keeps its permissions; a link is followed.
    data
        The whole content.
    to_disk
        Whether to wait until the disk has it.

    Raises
    ------
    OSError
        When it cannot be written; then the file is as it was.
    """
    write_together({path: data}, to_disk=to_disk)


def write_together(files: Mapping[Path, bytes], *, to_disk: bool = False, make_folders: bool = False) -> None:
    """Write several files, all of them or none.

    Parameters
    ----------
    files
        Content by path. Existing files are replaced and keep their permissions; links are followed.
    to_disk
        Whether to wait until the disk has them.
    make_folders
        Whether to make the folders that are missing.

    Raises
    ------
    OSError
        When one of them cannot be written; then all files are as they were, and no new folder stays.
    """
    folders: list[Path] = []
    parts: list[tuple[Path, Path]] = []
    try:
        for path, data in files.items():
            real = Path(os.path.realpath(path))
            if make_folders:
                _make(real.parent, folders)
            parts.append((real.with_name(f".tetherline-{secrets.token_hex(6)}.part"), real))
            _write(*parts[-1], data, to_disk)
        while parts:
            os.replace(*parts[0])
            parts.pop(0)
    except BaseException:
        for part, _ in parts:
            part.unlink(missing_ok=True)
        for folder in reversed(folders):
            with suppress(OSError):
                folder.rmdir()
        raise


def _make(folder: Path, made: list[Path]) -> None:
    """Make a folder and those above it, and note the new ones, outermost first."""
    if not folder.exists():
        _make(folder.parent, made)
        folder.mkdir()
        made.append(folder)


def _write(part: Path, real: Path, data: bytes, to_disk: bool) -> None:
    with part.open("xb") as out:
        out.write(data)
        if to_disk:
            out.flush()
            os.fsync(out.fileno())
    if real.is_file():
        part.chmod(real.stat().st_mode & 0o7777)
