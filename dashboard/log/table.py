"""One reader for every table that comes in: CSV or XLSX, as rows that know their places.

1. A row keeps its number as a spreadsheet shows it; a row of CSV also keeps its line and its text as it stands in the file.
2. The first row with a filled cell names the columns. Rows without a filled cell are passed over, but counted.
3. Commas, semicolons and tabs separate CSV; the first row tells which. Text is UTF-8, with or without its byte-order mark.
4. Every limit of size stands in `dashboard.log.limits` and is checked while reading, never after it.
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
    """A sheet: its column names, and its filled rows below them.

    Parameters
    ----------
    path : Path
        The file, for the words of a problem.
    sheet : str
        Name of the sheet in a workbook; empty for CSV.
    header_row : int
        Number of the row that names the columns.
    columns : tuple of str
        Their names, without spaces around them; empty for a column without one.
    rows : tuple of Row
    """

    path: Path
    sheet: str
    header_row: int
    columns: tuple[str, ...]
    rows: tuple[Row, ...]

    def place(self, row: int, column: str = "") -> str:
        """The address of a row, or of a cell of it: ``tasks.xlsx: sheet tasks, row 4, column after``."""
        sheet = f"sheet {self.sheet}, " if self.sheet else ""
        return f"{self.path}: {sheet}row {row}{f', column {column}' if column else ''}"

    def column_name(self, index: int) -> str:
        """The name of a column, or its letter as a spreadsheet shows it when it has no name; `index` counts from 0."""
        named = self.columns[index] if index < len(self.columns) else EMPTY
        return named or column_letter(index)


def read_table(path: Path, limits: TableLimits, preferred_sheet: str = "", data: bytes | None = None) -> Table:
    """Read a CSV or XLSX file.

    Parameters
    ----------
    path : Path
        Its ending tells the format: XLSX when it is ``.xlsx``, else CSV.
    limits : TableLimits
        How large it may be.
    preferred_sheet : str
        The sheet to read of a workbook that has one of this name; else its first.
    data : bytes or None
        The content, where it is at hand already.

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
    """The rows.

    Raises
    ------
    InputError
        At the first one that cannot be read: what follows it would stand in wrong rows.
    """
    found = []
    for row in rows:
        if row.fault:
            raise refusal(path, limits.what, f"text that is not CSV (row {row.number}: {row.fault})",
                          "Check the quotes, or save the sheet again as CSV.", row.line)
        found.append(row)
    return found
