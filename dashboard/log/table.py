"""Reads every table that comes in, CSV or XLSX, as rows with their places.

1. A row keeps its number as a spreadsheet shows it. A row of CSV also keeps its line and its text as it stands in the file.
2. The first row with a filled cell names the columns. Rows without a filled cell are left out, but counted.
3. Commas, semicolons or tabs separate CSV; the first row tells which. Text is UTF-8, with or without a byte-order mark.
4. Every limit of size stands in `dashboard.log.limits` and is checked during reading, not afterwards.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from dashboard.log.csv_rows import csv_rows
from dashboard.log.limits import TableLimits
from dashboard.log.rows import EMPTY, Row, cell_text, column_letter
from dashboard.log.textfile import check_size, decoded, read_file, refusal
from dashboard.log.xlsx_rows import xlsx_rows

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
        Number of the row that names the columns.
    columns
        Names without spaces around them; empty for a column without a name.
    rows
        The filled rows below the header.
    """

    path: Path
    sheet: str
    header_row: int
    columns: tuple[str, ...]
    rows: tuple[Row, ...]

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


def read_table(path: Path, limits: TableLimits, preferred_sheet: str = "", data: bytes | None = None) -> Table:
    """Read a CSV or XLSX file.

    Parameters
    ----------
    path
        The file. A name that ends in ``.xlsx`` means XLSX, any other name CSV.
    limits
        How large the table may be.
    preferred_sheet
        Name of the sheet to read; a workbook without a sheet of this name gives its first one.
    data
        The bytes of the file if they are already known; None: the file is read.

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
        sheet, rows = xlsx_rows(path, data, limits, preferred_sheet)
    else:
        decoded(path, limits.what, data)
        sheet, rows = "", _without_fault(path, limits, csv_rows(path, data, limits))
    if not rows:
        raise refusal(path, limits.what, "no row with a filled cell", "Write the column names first.")
    header, *below = rows
    return Table(path, sheet, header.number, tuple(cell_text(cell) for cell in header.cells), tuple(below))


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
