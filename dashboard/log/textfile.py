"""Reads a file as bytes or text. A file that cannot be what it should be is refused with the reason."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from dashboard.core.base.problems import InputError, Problem

UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")
UTF8_MARK = b"\xef\xbb\xbf"
SNIFFED_BYTES = 4096


def read_file(path: Path, what: str, largest_mb: float) -> bytes:
    """Read the bytes of a file.

    Parameters
    ----------
    path
        The file.
    what
        What the file should be, for errors; for instance ``a plan file (TOML)``.
    largest_mb
        Largest size in megabytes. A larger file is refused before it is read.

    Returns
    -------
    bytes
        Never empty.

    Raises
    ------
    InputError
        When the file is missing, a folder, unreadable, empty or too large.
    """
    if path.is_dir():
        raise refusal(path, what, "a folder", "Give the file inside it.")
    if not path.exists():
        raise refusal(path, what, "no such file", _files_like(path))
    try:
        _check_mb(path, what, largest_mb, path.stat().st_size)
        with path.open("rb") as file:
            data = file.read(int(largest_mb * 1e6) + 1)  # a device or a pipe has no size, and may never end
    except OSError as wrong:
        raise refusal(path, what, f"a file that cannot be read ({wrong.strerror})",
                      "Check its permissions.") from None
    check_size(path, what, largest_mb, data)
    return data


def check_size(path: Path, what: str, largest_mb: float, data: bytes) -> None:
    """Refuse content that is empty or too large.

    Parameters
    ----------
    path
        The file that the content is from, to be named in the error.
    what
        What the file should be, for the error.
    largest_mb
        Largest size in megabytes.
    data
        The content.

    Raises
    ------
    InputError
        When the content is larger, or holds nothing but white space.
    """
    _check_mb(path, what, largest_mb, len(data))
    if not data.strip():
        raise refusal(path, what, "an empty file", "Check that it was saved in full.")


def _check_mb(path: Path, what: str, largest_mb: float, size_bytes: int) -> None:
    if size_bytes > largest_mb * 1e6:
        raise refusal(path, f"{what} of at most {largest_mb:g} MB", f"{math.ceil(size_bytes / 1e5) / 10} MB",
                      "Check that this is the right file.")


def refuse_binary(path: Path, what: str, data: bytes) -> None:
    """Refuse content that is not text in UTF-8.

    Parameters
    ----------
    path
        The file that the content is from, to be named in the error.
    what
        What the file should be, for the error.
    data
        The content.

    Raises
    ------
    InputError
        When it begins as UTF-16, or has a NUL byte among its first `SNIFFED_BYTES` bytes.
    """
    if data.startswith(UTF16_MARKS):
        raise refusal(path, f"{what} in UTF-8", "text in UTF-16", "Save it as UTF-8.")
    if (at := data[:SNIFFED_BYTES].find(b"\0")) >= 0:
        raise refusal(path, what, f"a binary file (a NUL byte at byte {at})", "Give a text file.")


def read_text(path: Path, what: str, largest_mb: float) -> str:
    """Read the text of a UTF-8 file.

    Parameters
    ----------
    path
        The file.
    what
        What the file should be, for errors.
    largest_mb
        Largest size in megabytes.

    Returns
    -------
    str
        Without a byte-order mark.

    Raises
    ------
    InputError
        As for `read_file`, and when the file is binary or not UTF-8.
    """
    return decoded(path, what, read_file(path, what, largest_mb))


def decoded(path: Path, what: str, data: bytes) -> str:
    """Decode UTF-8 content.

    Parameters
    ----------
    path
        The file that the content is from, to be named in errors.
    what
        What the file should be, for errors.
    data
        The content.

    Returns
    -------
    str
        Without a byte-order mark.

    Raises
    ------
    InputError
        When the content is binary or not UTF-8; the error names the byte and its line.
    """
    refuse_binary(path, what, data)
    if (at := data.find(b"\0")) >= 0:
        raise refusal(path, what, f"a binary file (a NUL byte at byte {at})", "Give a text file.")
    try:
        return data.removeprefix(UTF8_MARK).decode("utf-8")
    except UnicodeDecodeError as wrong:
        at = wrong.start + len(data) - len(wrong.object)
        line = data.count(b"\n", 0, at) + 1
        raise refusal(
            path, f"{what} in UTF-8", f"byte 0x{data[at]:02x} at byte {at} (line {line}), which is not UTF-8",
            "Save it as UTF-8.",
        ) from None


def refusal(path: Path, expected: str, found: str, cure: str, line: int | None = None) -> InputError:
    """Make the error that refuses a file as a whole.

    Parameters
    ----------
    path
        The file.
    expected, found
        In words.
    cure
        What to do, as a sentence.
    line
        Line of the file to point at, from 1; None: no line.

    Returns
    -------
    InputError
        With one problem, to be raised by the caller.
    """
    where = str(path) if line is None else f"{path}:{line}"
    return InputError([Problem(f"file {path.name}", expected, found, cure, where)])


def wrong_ending(path: Path, endings: Sequence[str], cure: str) -> InputError:
    """Make the error that refuses the name of a file for its ending.

    Parameters
    ----------
    path
        The file.
    endings
        Those that it may have, with their dots.
    cure
        What to do, as a sentence.

    Returns
    -------
    InputError
        To be raised by the caller.
    """
    found = f"'{path.suffix}'" if path.suffix else "no ending"
    names = " or ".join(filter(None, (", ".join(endings[:-1]), endings[-1])))
    return refusal(path, f"a name that ends in {names}", found, cure)


def _files_like(path: Path) -> str:
    if path.parent.is_file():
        return f"{path.parent} is a file, not a folder; check the path."
    if not path.parent.is_dir():
        return f"The folder {path.parent} does not exist either; check the path."
    like = sorted(other.name for other in path.parent.glob(f"*{path.suffix}") if other.is_file())[:5]
    return f"In that folder: {', '.join(like)}." if like and path.suffix else "Check the path."
