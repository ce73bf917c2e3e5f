"""Rows and cells of a table, the same for CSV and XLSX."""

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
    number
        Number as a spreadsheet counts the rows, from 1.
    cells
        Cells up to the last filled one; an empty cell is `EMPTY`. CSV gives texts; XLSX also gives numbers, dates and times.
    line
        For CSV: the line on which the row begins, from 1.
    raw
        For CSV: the row as it stands in the file.
    fault
        Why the cells could not be read, as ``expected ...; found ...``; empty when they could be read.
    """

    number: int
    cells: tuple[Cell, ...]
    line: int = 0
    raw: str = ""
    fault: str = ""


def is_filled(cell: Cell | None) -> bool:
    """Tell whether a cell holds more than spaces.

    Parameters
    ----------
    cell
        None is an empty cell.

    Returns
    -------
    bool
        True for any number, date or time, and for a text with at least one other character than spaces.
    """
    return cell is not None and (not isinstance(cell, str) or cell.strip() != "")


def up_to_last_filled(cells: Iterable[Cell | None]) -> tuple[Cell, ...]:
    """Remove the empty cells at the end of a row.

    Parameters
    ----------
    cells
        All cells of the row; None is an empty cell.

    Returns
    -------
    tuple
        The other cells; each None among them becomes `EMPTY`.
    """
    kept = [EMPTY if cell is None else cell for cell in cells]
    while kept and not is_filled(kept[-1]):
        kept.pop()
    return tuple(kept)


def cell_text(cell: Cell) -> str:
    """Give the text of a cell.

    Parameters
    ----------
    cell
        Any cell.

    Returns
    -------
    str
        Without spaces around it. A whole number has no decimal point.
    """
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return str(cell).strip()


def column_letter(index: int) -> str:
    """Give the letters that a spreadsheet shows above a column.

    Parameters
    ----------
    index
        Column, counted from 0.

    Returns
    -------
    str
        ``A`` for 0, ``AA`` for 26.
    """
    letters, left = "", index + 1
    while left:
        left, place = divmod(left - 1, 26)
        letters = chr(ord("A") + place) + letters
    return letters
