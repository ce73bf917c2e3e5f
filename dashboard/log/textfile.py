"""Reading a file as bytes and text, with a clear refusal when it cannot be what it should be."""

from __future__ import annotations

from pathlib import Path

from dashboard.core.base.problems import InputError, Problem

UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")
UTF8_MARK = b"\xef\xbb\xbf"
SNIFFED_BYTES = 4096


def read_file(path: Path, what: str, largest_mb: float) -> bytes:
    """The bytes of a file.

    Parameters
    ----------
    path : Path
    what : str
        What the file should be, for instance ``a plan file (TOML)``.
    largest_mb : float
        A larger file is refused unread, in megabytes.

    Raises
    ------
    InputError
        When it is missing, a folder, unreadable, empty or too large.
    """
    if path.is_dir():
        raise refusal(path, what, "a folder", "Name the file inside it.")
    if not path.exists():
        raise refusal(path, what, "no such file", _files_like(path))
    try:
        _check_mb(path, what, largest_mb, path.stat().st_size)
        data = path.read_bytes()
    except OSError as wrong:
        raise refusal(path, what, f"a file that cannot be read ({wrong.strerror})",
                      "Check its permissions.") from None
    check_size(path, what, largest_mb, data)
    return data


def check_size(path: Path, what: str, largest_mb: float, data: bytes) -> None:
    """Refuse content that is empty or too large.

    Raises
    ------
    InputError
    """
    _check_mb(path, what, largest_mb, len(data))
    if not data.strip():
        raise refusal(path, what, "an empty file", "Check that it was saved in full.")


def _check_mb(path: Path, what: str, largest_mb: float, size_bytes: int) -> None:
    if size_bytes > largest_mb * 1e6:
        raise refusal(path, f"{what} of at most {largest_mb:g} MB", f"{size_bytes / 1e6:.1f} MB",
                      "Check that this is the file you mean.")


def refuse_binary(path: Path, what: str, data: bytes) -> None:
    """Refuse text that is not text at all.

    Raises
    ------
    InputError
        When it begins as UTF-16 or has NUL bytes near its beginning.
    """
    if data.startswith(UTF16_MARKS):
        raise refusal(path, f"{what} in UTF-8", "text in UTF-16", "Save it as UTF-8.")
    if (at := data[:SNIFFED_BYTES].find(b"\0")) >= 0:
        raise refusal(path, what, f"a binary file (a NUL byte at byte {at})", "Name a text file.")


def read_text(path: Path, what: str, largest_mb: float) -> str:
    """The text of a UTF-8 file.

    Raises
    ------
    InputError
        As `read_file`, and when it is binary or not UTF-8.
    """
    return decoded(path, what, read_file(path, what, largest_mb))


def decoded(path: Path, what: str, data: bytes) -> str:
    """The text of UTF-8 content, without a byte-order mark.

    Raises
    ------
    InputError
        When it is binary or not UTF-8.
    """
    refuse_binary(path, what, data)
    if (at := data.find(b"\0")) >= 0:
        raise refusal(path, what, f"a binary file (a NUL byte at byte {at})", "Name a text file.")
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
    """One problem with the file as a whole."""
    where = str(path) if line is None else f"{path}:{line}"
    return InputError([Problem(f"file {path.name}", expected, found, cure, where)])


def _files_like(path: Path) -> str:
    if not path.parent.is_dir():
        return f"The folder {path.parent} does not exist either; check the path."
    like = sorted(other.name for other in path.parent.glob(f"*{path.suffix}") if other.is_file())[:5]
    return f"In that folder: {', '.join(like)}." if like and path.suffix else "Check the path."
