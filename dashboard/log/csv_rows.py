"""Reads the rows of a CSV text. A row that cannot be read carries the reason, and all other rows are read."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path

from dashboard.log.csv_texts import unguarded
from dashboard.log.limits import TableLimits
from dashboard.log.rows import Row, up_to_last_filled
from dashboard.log.textfile import UTF8_MARK, refusal

DELIMITERS = ",;\t"
MOST_LINES_PER_ROW = 200  # if a quote is not closed within this many lines, only its own line is lost
MOST_LINES_LOOKED_AT = 20  # to find the sign that separates the cells
_NOTHING = b" \r" + DELIMITERS.encode()


def csv_rows(path: Path, data: bytes, limits: TableLimits) -> Iterator[Row]:
    """Read the rows of a CSV text that are not empty, the header included.

    Parameters
    ----------
    path
        The file, to be named in errors.
    data
        Its bytes, in UTF-8, with or without a byte-order mark.
    limits
        A row with too many or too long cells carries that as its fault.

    Yields
    ------
    Row
        In the order of the file. Empty rows are left out but counted in the row numbers.

    Raises
    ------
    InputError
        When there are more rows than allowed.
    """
    lines = lines_of(data)
    delimiter = delimiter_of([shown(line) for line in lines[:MOST_LINES_LOOKED_AT]])
    for number, line, raw in _split(lines, delimiter):
        if not raw.strip(_NOTHING):
            continue
        if number > limits.rows:
            raise refusal(path, f"{limits.what} of at most {limits.rows} rows", "more", "Remove the other rows.")
        row = csv_row(number, line, raw, delimiter, limits)
        if row.cells or row.fault:
            yield row


def lines_of(data: bytes) -> list[bytes]:
    """Split a text into lines. Lines may end in LF, CR LF, or CR.

    Parameters
    ----------
    data
        The bytes of the text; a byte-order mark of UTF-8 is removed.

    Returns
    -------
    list of bytes
        Lines without LF, or without CR in a text that has no LF. In a text with CR LF each line keeps its CR.
    """
    data = data.removeprefix(UTF8_MARK)
    return data.split(b"\n" if b"\n" in data else b"\r")


def delimiter_of(lines: Sequence[str]) -> str:
    """Find the sign that separates the cells.

    Parameters
    ----------
    lines
        The first lines of the text, the header included.

    Returns
    -------
    str
        The sign among `DELIMITERS` that gives the first row the most cells. Where several give the same number, the next row
        decides.
    """
    return max(DELIMITERS, key=lambda sign: _widths(lines, sign))


def _widths(lines: Sequence[str], delimiter: str) -> list[int]:
    """The number of cells of each row, up to the first row that is not CSV with this delimiter."""
    rows = csv.reader((f"{line}\n" for line in lines), delimiter=delimiter, strict=True)
    found = []
    with suppress(csv.Error):
        for row in rows:
            found.append(len(row))
    return found


def shown(line: bytes) -> str:
    r"""Decode a line for display.

    Parameters
    ----------
    line
        Any bytes.

    Returns
    -------
    str
        The line as text; a byte that is not UTF-8 is shown as an escape such as ``\xff``.
    """
    return line.decode("utf-8", "backslashreplace")


def _split(lines: list[bytes], delimiter: str) -> Iterator[tuple[int, int, bytes]]:
    """The bytes of each row, with its number and the line on which it begins.

    A cell in quotes may run over several lines.
    """
    at, number = 0, 0
    while at < len(lines):
        used = 1
        if b'"' in lines[at]:
            ahead = (f"{shown(line)}\n" for line in lines[at : at + MOST_LINES_PER_ROW])
            reader = csv.reader(ahead, delimiter=delimiter, strict=True)
            with suppress(csv.Error):
                next(reader)
                used = reader.line_num
        number += 1
        yield number, at + 1, b"\n".join(lines[at : at + used]).rstrip(b"\r")
        at += used


def is_open(raw: bytes, delimiter: str) -> bool:
    """Tell whether a row of CSV ends inside quotes, so that the next line belongs to it.

    Parameters
    ----------
    raw
        The bytes of the row so far.
    delimiter
        The sign that separates the cells.

    Returns
    -------
    bool
        True when a quote is still open.
    """
    if b'"' not in raw:
        return False
    try:
        next(csv.reader(io.StringIO(shown(raw), newline=""), delimiter=delimiter, strict=True))
    except csv.Error as wrong:
        return "unexpected end of data" in str(wrong)
    return False


def csv_row(number: int, line: int, raw: bytes, delimiter: str, limits: TableLimits) -> Row:
    """Read one row of CSV.

    Parameters
    ----------
    number
        Number of the row as a spreadsheet counts, from 1.
    line
        Line of the file on which the row begins, from 1.
    raw
        The bytes of the row, without the end of its last line.
    delimiter
        The sign that separates the cells.
    limits
        How many cells a row may have, and how long a cell may be.

    Returns
    -------
    Row
        Without cells and with a `fault` when it is not UTF-8, not CSV, or over the limits.
    """
    try:
        text = raw.decode("utf-8")
        found = next(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True))
    except UnicodeDecodeError as wrong:
        fault = f"expected UTF-8; found byte 0x{raw[wrong.start]:02x} at byte {wrong.start} of the line"
        return Row(number, (), line, shown(raw), fault)
    except csv.Error as wrong:
        return Row(number, (), line, text, f"expected a row of CSV; found {wrong}")
    cells = up_to_last_filled([unguarded(cell) for cell in found])
    longest = max(map(len, found), default=0)
    fault = ""
    if len(cells) > limits.columns:
        fault = f"expected at most {limits.columns} cells; found {len(cells)}"
    elif longest > limits.cell_characters:
        fault = f"expected cells of at most {limits.cell_characters} characters; found one of {longest}"
    return Row(number, () if fault else cells, line, text, fault)
