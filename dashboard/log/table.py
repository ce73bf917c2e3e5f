"""Reads every table that comes in, CSV or XLSX, as rows with their places.

1. A row keeps its number as a spreadsheet shows it. A row of CSV also keeps its line and its text as it stands in the file.
2. A row names the columns: the one that fits best (`dashboard.log.headings`), or the first row with a filled cell where the
   reader of the table does not say what fits. Rows without a filled cell are left out, but counted.
3. Cells merged over several rows of a workbook hold the same value in each of these rows. `Table.merged` tells which were merged.
4. Commas, semicolons or tabs separate CSV; the first row tells which. Text is UTF-8, with or without a byte-order mark.
5. Every limit of size stands in `dashboard.log.limits` and is checked during reading, not afterwards.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from dashboard.log.csv_rows import csv_rows
from dashboard.log.headings import Fits, find_headings
from dashboard.log.limits import TableLimits
from dashboard.log.rows import EMPTY, Row, column_letter, is_filled
from dashboard.log.textfile import check_size, decoded, read_file, refusal
from dashboard.log.xlsx_rows import Merged, Sheet, xlsx_sheets

SUFFIXES = (".csv", ".xlsx")


@dataclass(frozen=True)
class Table:
    """A sheet: the names of its columns, and the filled rows below them.

    Parameters
    ----------
    path
        The file, to be named in problems.
    sheet
        Name of the sheet in a workbook; empty for CSV.
    header_row
        Number of the row that names the columns; of two such rows the lower one.
    columns
        Names without spaces around them; empty for a column without a name.
    rows
        The filled rows below the header.
    above
        The filled rows above the names of the columns.
    merged
        Ranges of merged cells that reach below the header.
    """

    path: Path
    sheet: str
    header_row: int
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    above: tuple[Row, ...] = ()
    merged: tuple[Merged, ...] = ()

    def place(self, row: int, column: str = "") -> str:
        """Give the address of a row or a cell.

        Parameters
        ----------
        row
            Number of the row.
        column
            Name or letter of the column; empty for the whole row.

        Returns
        -------
        str
            For example ``tasks.xlsx: sheet tasks, row 4, column after``.
        """
        sheet = f"sheet {self.sheet}, " if self.sheet else ""
        return f"{self.path}: {sheet}row {row}{f', column {column}' if column else ''}"

    def column_name(self, index: int) -> str:
        """Give the name of a column.

        Parameters
        ----------
        index
            Column, counted from 0; it may lie beyond the named columns.

        Returns
        -------
        str
            The name, or for a column without a name its letters in a spreadsheet.
        """
        named = self.columns[index] if index < len(self.columns) else EMPTY
        return named or column_letter(index)


def read_table(
    path: Path, limits: TableLimits, preferred_sheet: str = "", data: bytes | None = None, fits: Fits | None = None
) -> Table:
    """Read a CSV or XLSX file.

    Parameters
    ----------
    path
        The file. A name that ends in ``.xlsx`` means XLSX, any other name CSV.
    limits
        How large the table may be.
    preferred_sheet
        Name of the sheet to read. A workbook without a sheet of this name gives the one whose headings fit best, or its first.
    data
        The bytes of the file if they are already known; None: the file is read.
    fits
        Gives for the names of the columns how many of them are known; 0 when they cannot be the names. None: the first row names
        the columns.

    Returns
    -------
    Table
        Its rows include no empty ones.

    Raises
    ------
    InputError
        When the file is neither CSV nor XLSX, is damaged, has no filled row, or is larger than its limits.
    """
    if data is None:
        data = read_file(path, limits.what, limits.file_mb)
    else:
        check_size(path, limits.what, limits.file_mb, data)
    if path.suffix.lower() == ".xlsx":
        return best_table(path, limits, xlsx_sheets(path, data, limits), preferred_sheet, fits)
    decoded(path, limits.what, data)
    return table_of(path, Sheet("", _without_fault(path, limits, csv_rows(path, data, limits))), limits, fits)


def table_of(path: Path, sheet: Sheet, limits: TableLimits, fits: Fits | None = None) -> Table:
    """Make a table of the rows of one sheet.

    Parameters
    ----------
    path
        The file, to be named in problems.
    sheet
        Its filled rows.
    limits
        They say what the table should be, for errors.
    fits
        As for `read_table`.

    Returns
    -------
    Table
        Its rows include no empty ones.

    Raises
    ------
    InputError
        When the sheet has no filled row, or may not be used.
    """
    if sheet.fault is not None:
        raise sheet.fault
    if not sheet.rows:
        raise refusal(path, limits.what, "no row with a filled cell", "Write the column names first.")
    found = find_headings(sheet.rows, fits)
    header = sheet.rows[found.last].number
    merged = tuple(one for one in sheet.merged if one.last_row > header)
    rows = _filled_down(sheet.rows[found.last + 1 :], merged)
    return Table(path, sheet.name, header, found.names, rows, tuple(sheet.rows[: found.first]), merged)


def best_table(path: Path, limits: TableLimits, sheets: Sequence[Sheet], preferred: str, fits: Fits | None) -> Table:
    """Make a table of the preferred sheet; else of the one whose headings fit best, the earlier one among equals.

    Parameters
    ----------
    path
        The workbook, to be named in problems.
    limits
        They say what the table should be, for errors.
    sheets
        At least one.
    preferred
        Name of the sheet to take if the workbook has it.
    fits
        As for `read_table`.

    Returns
    -------
    Table
        Its rows include no empty ones.
    """
    named = [sheet for sheet in sheets if sheet.name == preferred]
    if named or fits is None:
        return table_of(path, (named or sheets)[0], limits, fits)
    best = max(sheets, key=lambda sheet: fits(find_headings(sheet.rows, fits).names) if sheet.rows else -1)
    return table_of(path, best, limits, fits)


def _filled_down(rows: list[Row], merged: tuple[Merged, ...]) -> tuple[Row, ...]:
    """The rows with the value of cells merged over several rows in each of these rows. Empty rows stay left out."""
    tall = [one for one in merged if one.first_column == one.last_column and one.last_row > one.first_row]
    if not tall:
        return tuple(rows)
    by_number = {row.number: list(row.cells) for row in rows}
    for one in tall:
        column, top = one.first_column, by_number.get(one.first_row, [])
        value = top[column] if column < len(top) else EMPTY
        for number in range(one.first_row + 1, one.last_row + 1) if is_filled(value) else ():
            if (cells := by_number.get(number)) is not None:
                cells.extend([EMPTY] * (column + 1 - len(cells)))
                cells[column] = value
    return tuple(row._replace(cells=tuple(by_number[row.number])) for row in rows)


def _without_fault(path: Path, limits: TableLimits, rows: Iterable[Row]) -> list[Row]:
    """Collect the rows.

    Raises
    ------
    InputError
        At the first row that cannot be read, since every row after it would have a wrong number.
    """
    found = []
    for row in rows:
        if row.fault:
            raise refusal(path, limits.what, f"text that is not CSV (row {row.number}: {row.fault})",
                          "Check the quotes, or save the sheet again as CSV.", row.line)
        found.append(row)
    return found
