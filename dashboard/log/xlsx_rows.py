"""Reads the rows of one sheet of an XLSX workbook, with the saved results of its formulas."""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from dashboard.core.base.problems import InputError, Problem
from dashboard.log.limits import TableLimits
from dashboard.log.rows import Cell, Row, column_letter, is_filled, up_to_last_filled
from dashboard.log.textfile import refusal
from dashboard.log.unpack import cells_without_result, stored, unpacked

MOST_FORMULAS_SHOWN = 20
MOST_ROWS_OF_XLSX = 1_048_576


def xlsx_rows(path: Path, data: bytes, limits: TableLimits, preferred_sheet: str = "") -> tuple[str, list[Row]]:
    """Read the rows of a sheet that are not empty, the header included.

    Parameters
    ----------
    path
        The file, to be named in errors.
    data
        Its bytes.
    limits
        How large the workbook may be.
    preferred_sheet
        Name of the sheet to read; a workbook without a sheet of this name gives its first one.

    Returns
    -------
    str
        Name of the sheet.
    list of Row
        Its rows. Empty rows are left out but counted in the row numbers.

    Raises
    ------
    InputError
        When the file is not a workbook, is damaged, is larger than its limits, or has a formula whose result was never saved.
    """
    parts = unpacked(path, data, limits)
    archive = stored(parts)
    unsaved = cells_without_result(parts)
    del parts
    try:
        with _sheet(archive, preferred_sheet, results=True) as page:
            name, rows = str(page.title), list(_rows(path, page, limits))
        if unsaved:
            with _sheet(archive, preferred_sheet, results=False) as page:
                _check_formulas(path, name, unsaved, _rows(path, page, limits))
    except InputError:
        raise
    except Exception as wrong:  # noqa: BLE001 - the workbook reader raises whatever its parts raise
        raise refusal(path, limits.what, f"a damaged file ({type(wrong).__name__})", "Save the sheet again.") from None
    return name, rows


@contextmanager
def _sheet(archive: io.BytesIO, preferred: str, results: bool) -> Iterator[Any]:
    """Open a sheet of the workbook. `results` tells whether a formula shows as its saved result or as its text."""
    import openpyxl  # type: ignore[import-untyped]  # takes a tenth of a second, so only workbooks load it

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns of styles and extensions, which do not matter here
        book = openpyxl.load_workbook(archive, read_only=True, data_only=results, keep_links=False)
    try:
        page = book[preferred] if preferred in book.sheetnames else book.worksheets[0]
        page.reset_dimensions()  # the size that the sheet declares may be false, and cells would be left out
        yield page
    finally:
        book.close()


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


def _check_formulas(path: Path, sheet: str, unsaved: frozenset[str], formulas: Iterator[Row]) -> None:
    """Refuse formulas whose result was never saved. They would otherwise read as empty cells."""
    problems: list[Problem] = []
    for row in formulas:
        for index, cell in enumerate(row.cells):
            if is_filled(cell) and f"{column_letter(index)}{row.number}" in unsaved:
                at = f"row {row.number}, column {column_letter(index)}"
                problems.append(Problem(
                    at, "a value", f"a formula without a saved result ({getattr(cell, 'text', cell)})",
                    "Open the sheet in the spreadsheet and save it, or write the value.", f"{path}: sheet {sheet}, {at}",
                ))
    if problems:
        raise InputError(problems[:MOST_FORMULAS_SHOWN])
