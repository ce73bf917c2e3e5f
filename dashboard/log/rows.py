"""Rows and cells of a table, whatever file they come from."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from typing import NamedTuple

Cell = str | bool | int | float | datetime | date | time | timedelta
EMPTY = ""


class Row(NamedTuple):
    """One row of a table.

    Parameters
    ----------
    number : int
        As a spreadsheet counts the rows, from 1.
    cells : tuple
        Up to the last filled cell; `EMPTY` where there is nothing. CSV gives texts, XLSX numbers, dates and times as well.
    line : int
        Of CSV: the line on which the row begins.
    raw : str
        Of CSV: the row as it stands in the file.
    fault : str
        Why the cells could not be read, as ``expected ...; found ...``. Empty when they could.
    """

    number: int
    cells: tuple[Cell, ...]
    line: int = 0
    raw: str = ""
    fault: str = ""


def is_filled(cell: Cell | None) -> bool:
    """Whether a cell holds more than spaces."""
    return cell is not None and (not isinstance(cell, str) or cell.strip() != "")


def up_to_last_filled(cells: Iterable[Cell | None]) -> tuple[Cell, ...]:
    """The cells of a row without the empty ones at its end."""
    kept = [EMPTY if cell is None else cell for cell in cells]
    while kept and not is_filled(kept[-1]):
        kept.pop()
    return tuple(kept)


def cell_text(cell: Cell) -> str:
    """The words of a cell, without spaces around them; a whole number without its decimal point."""
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return str(cell).strip()


def column_letter(index: int) -> str:
    """The letters that a spreadsheet shows above a column; `index` counts from 0."""
    letters, left = "", index + 1
    while left:
        left, place = divmod(left - 1, 26)
        letters = chr(ord("A") + place) + letters
    return letters
