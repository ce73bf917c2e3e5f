"""Reads the clock times that a spreadsheet stores as a time of day, a length, or a date of its own calendar."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from dashboard.log.rows import Cell

DAY_ZERO = datetime(1899, 12, 31)  # 24:00 shown as a date is the first of January 1900
FIRST_YEAR = 1900  # a date of a later year was meant as a date


def clock_minutes(cell: Cell) -> float | None:
    """Read a clock time that a spreadsheet stored as a time.

    Parameters
    ----------
    cell
        Any cell.

    Returns
    -------
    float or None
        Minutes; None when the cell is not such a time, or holds a real date (after the year `FIRST_YEAR`).
    """
    if isinstance(cell, datetime):
        return (cell - DAY_ZERO).total_seconds() / 60 if cell.year <= FIRST_YEAR else None
    if isinstance(cell, time):
        return cell.hour * 60 + cell.minute + cell.second / 60
    if isinstance(cell, timedelta):
        return cell.total_seconds() / 60
    return None
