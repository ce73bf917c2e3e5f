"""Limits for the size of every file that the program reads.

The limits are far above what a sortie needs. They exist so that a wrong or hostile file is refused at once, with the reason,
before it takes time or memory.
"""

from __future__ import annotations

from dataclasses import dataclass

PLAN_FILE_MB = 5.0
RUN_HEADER_MB = 1.0


@dataclass(frozen=True)
class TableLimits:
    """How large a table may be.

    Parameters
    ----------
    what
        What the file should be, for errors.
    file_mb
        Size of the file, in megabytes.
    unpacked_mb
        Size of the unpacked content of an XLSX file, in megabytes.
    rows, columns
        Number in one sheet; the header counts as a row.
    cells
        Number in one sheet; empty cells that the file lists count too.
    cell_characters
        Characters in one cell.
    """

    what: str
    file_mb: float
    unpacked_mb: float
    rows: int
    columns: int
    cells: int
    cell_characters: int

    @property
    def tags(self) -> int:
        """How many XML tags an unpacked XLSX file may have. Time and memory for reading it grow with their number."""
        return 6 * self.cells + TAGS_OF_AN_EMPTY_WORKBOOK


TAGS_PER_ROW = 100_000  # an XLSX row of 16,384 cells, each with a value, has 65,540
TAGS_OF_AN_EMPTY_WORKBOOK = 50_000  # its styles, properties and relations
PLAN_SHEET = TableLimits(
    "a task sheet (CSV or XLSX)", file_mb=5.0, unpacked_mb=50.0, rows=5_000, columns=200, cells=125_000,
    cell_characters=32_767,
)  # fmt: skip
LOG_SHEET = TableLimits(
    "a log sheet (CSV or XLSX)", file_mb=20.0, unpacked_mb=50.0, rows=20_000, columns=200, cells=250_000,
    cell_characters=32_767,
)  # fmt: skip
EVENT_LOG = TableLimits(
    "an event log (JSON Lines or CSV)", file_mb=50.0, unpacked_mb=0.0, rows=500_000, columns=200, cells=5_000_000,
    cell_characters=131_072,
)  # fmt: skip
