"""Reads the rows of the sheets of an XLSX workbook, with the saved results of its formulas, and its merged cells."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

from dashboard.core.base.problems import InputError, Problem
from dashboard.log.limits import TableLimits
from dashboard.log.rows import Cell, Row, column_letter, is_filled, up_to_last_filled
from dashboard.log.textfile import refusal
from dashboard.log.unpack import cells_without_result, stored, unpacked

MOST_FORMULAS_SHOWN = 20
MOST_ROWS_OF_XLSX = 1_048_576
_MERGED = re.compile(rb'<(?:\w+:)?mergeCell\s+ref="([A-Z]{1,3})(\d{1,7}):([A-Z]{1,3})(\d{1,7})"')


class Merged(NamedTuple):
    """A range of merged cells: rows from 1, as a spreadsheet counts them, and columns from 0. Its first cell holds the value."""

    first_row: int
    first_column: int
    last_row: int
    last_column: int


class Sheet(NamedTuple):
    """A sheet: its name (empty for CSV), its filled rows, its merged ranges, and why it may not be used (None: it may)."""

    name: str
    rows: list[Row]
    merged: tuple[Merged, ...] = ()
    fault: InputError | None = None


def xlsx_sheets(path: Path, data: bytes, limits: TableLimits) -> list[Sheet]:
    """Read the rows of every sheet that are not empty, the header included.

    Parameters
    ----------
    path
        The file, to be named in errors.
    data
        Its bytes.
    limits
        How large each sheet of the workbook may be.

    Returns
    -------
    list of Sheet
        In the order of the workbook; at least one. Empty rows are left out but counted in the row numbers. A sheet that is larger
        than its limits, or has a formula whose result was never saved, carries that as its fault.

    Raises
    ------
    InputError
        When the file is not a workbook, is damaged, or is larger than its limits.
    """
    parts = unpacked(path, data, limits)
    archive = stored(parts)
    try:
        with _book(archive, results=True) as pages:
            sheets = [_sheet(path, page, parts, limits) for page in pages]
            unsaved = {
                str(page.title): found for page in pages
                if (found := cells_without_result({part: parts[part] for part in [_part_of(page)] if part in parts}))
            }
        if unsaved:
            with _book(archive, results=False) as pages:
                formulas = {str(page.title): page for page in pages}
                for at, (name, *_, fault) in enumerate(sheets):
                    if fault is None and name in unsaved:
                        fault = _without_result(path, name, unsaved[name], formulas[name], limits)
                        sheets[at] = sheets[at]._replace(fault=fault)
    except Exception as wrong:  # noqa: BLE001 - the workbook reader raises whatever its parts raise
        raise refusal(path, limits.what, f"a damaged file ({type(wrong).__name__})", "Save the sheet again.") from None
    return sheets


def _sheet(path: Path, page: Any, parts: Mapping[str, bytes], limits: TableLimits) -> Sheet:
    """Read one sheet."""
    name = str(page.title)
    try:
        return Sheet(name, list(_rows(path, page, limits)), _merged(path, parts.get(_part_of(page), b""), limits))
    except InputError as too_large:
        return Sheet(name, [], fault=too_large)


@contextmanager
def _book(archive: io.BytesIO, results: bool) -> Iterator[list[Any]]:
    """Open the sheets of a workbook. `results` tells whether a formula shows as its saved result or as its text."""
    import openpyxl  # type: ignore[import-untyped]  # takes a tenth of a second, so only workbooks load it

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns of styles and extensions, which do not matter here
        book = openpyxl.load_workbook(archive, read_only=True, data_only=results, keep_links=False)
    try:
        for page in book.worksheets:
            page.reset_dimensions()  # the size that the sheet declares may be false, and cells would be left out
        yield book.worksheets
    finally:
        book.close()


def _part_of(page: Any) -> str:
    """The part of the workbook that holds a sheet; empty when the reader does not tell."""
    return str(getattr(page, "_worksheet_path", ""))


def _merged(path: Path, content: bytes, limits: TableLimits) -> tuple[Merged, ...]:
    """The merged cells of a sheet, from the content of its part; the reader of large workbooks does not give them."""
    ranges = _MERGED.findall(content)
    if len(ranges) > limits.rows:
        raise refusal(path, f"{limits.what} of at most {limits.rows} merged ranges", "more", "Take the merging of cells back.")
    return tuple(
        Merged(int(top), _column(left), int(bottom), _column(right)) for left, top, right, bottom in ranges
    )


def _column(letters: bytes) -> int:
    """The number of a column, from 0, by its letters."""
    number = 0
    for letter in letters:
        number = number * 26 + letter - ord("A") + 1
    return number - 1


def _rows(path: Path, page: Any, limits: TableLimits) -> Iterator[Row]:
    listed = 0
    for number, found in enumerate(page.iter_rows(values_only=True), start=1):
        listed += len(found)
        if listed > limits.cells:
            raise refusal(path, f"{limits.what} of at most {limits.cells} cells, empty ones among them", "more",
                          "Delete the empty rows and columns beside the table.")
        cells = up_to_last_filled(found)
        if cells:
            _check_row(path, number, cells, limits)
            yield Row(number, cells)
        elif number > MOST_ROWS_OF_XLSX:
            raise refusal(path, f"rows up to {MOST_ROWS_OF_XLSX}", "a row beyond", "Save the sheet again.")


def _check_row(path: Path, number: int, cells: tuple[Cell, ...], limits: TableLimits) -> None:
    if number > limits.rows:
        raise refusal(path, f"{limits.what} of at most {limits.rows} rows", "more", "Remove the other rows.")
    if len(cells) > limits.columns:
        raise refusal(path, f"{limits.what} of at most {limits.columns} columns",
                      f"a cell in column {column_letter(len(cells) - 1)} of row {number}", "Remove the other columns.")
    longest = max(len(cell) if isinstance(cell, str) else 0 for cell in cells)
    if longest > limits.cell_characters:
        raise refusal(path, f"{limits.what} with at most {limits.cell_characters} characters in a cell",
                      f"{longest} characters in row {number}", "Shorten the text.")


def _without_result(path: Path, sheet: str, unsaved: frozenset[str], page: Any, limits: TableLimits) -> InputError | None:
    """The error about formulas whose result was never saved. They would otherwise read as empty cells."""
    problems: list[Problem] = []
    for row in _rows(path, page, limits):
        for index, cell in enumerate(row.cells):
            if is_filled(cell) and f"{column_letter(index)}{row.number}" in unsaved:
                at = f"row {row.number}, column {column_letter(index)}"
                problems.append(Problem(
                    at, "a value", f"a formula without a saved result ({getattr(cell, 'text', cell)})",
                    "Open the sheet in the spreadsheet and save it, or write the value.", f"{path}: sheet {sheet}, {at}",
                ))
    return InputError(problems[:MOST_FORMULAS_SHOWN]) if problems else None
