"""Reads the times of a log sheet's rows as instants: PETs, times of day (UTC), or whole dates."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta

from dashboard.core.base.times import parse_instant, parse_minutes, plus_minutes
from dashboard.log.log_sheet_options import ClockTimes
from dashboard.log.rows import Cell, cell_text
from dashboard.log.spreadsheet_times import FIRST_YEAR, clock_minutes

HALF_A_DAY = timedelta(hours=12)
_DATED = re.compile(r"\d{4}-\d")


class MeaningOfTimesMissing(Exception):
    """A clock time such as 1:50 was found, and nothing tells whether it is a PET or a time of day."""


class RowTimes:
    """Turns the times of the rows into instants, one after the other. Times of day may pass midnight.

    Parameters
    ----------
    meaning
        What a clock time is: `pet` or `utc`; None when nothing tells.
    pet_zero
        The instant from which PETs count.
    day
        The day on which the first time of day lies.

    Attributes
    ----------
    remarks
        What was assumed, for the report.
    """

    def __init__(self, meaning: ClockTimes | None, pet_zero: datetime, day: date) -> None:
        self.meaning, self.pet_zero, self.day = meaning, pet_zero, day
        self.remarks: list[str] = []
        self._last: datetime | None = None

    def instant(self, cell: Cell) -> datetime:
        """Read the instant of the next row.

        Parameters
        ----------
        cell
            The cell with the time.

        Returns
        -------
        datetime
            Aware, in UTC.

        Raises
        ------
        ValueError
            When the cell holds no usable time; the message is ``<expected>, not <found>``.
        MeaningOfTimesMissing
            When the cell holds a clock time and `meaning` is None.
        """
        if isinstance(cell, datetime) and cell.year > FIRST_YEAR:
            if cell.tzinfo is None and self.meaning != "utc":
                raise ValueError(f"a time with its zone, or the option --times utc, not {cell}")
            return cell.replace(tzinfo=UTC) if cell.tzinfo is None else cell.astimezone(UTC)
        text = cell_text(cell)
        if not text:
            raise ValueError("a time, not an empty cell")
        if _DATED.match(text):
            return parse_instant(text)
        minutes = _minutes(cell)
        if self.meaning is None:
            raise MeaningOfTimesMissing(text)
        return plus_minutes(self.pet_zero, minutes) if self.meaning == "pet" else self._time_of_day(minutes)

    def _time_of_day(self, minutes: float) -> datetime:
        if not 0 <= minutes < 24 * 60:
            raise ValueError(f"a time of day, not {minutes:g} min")
        at = on_day(self.day, minutes)
        if self._last is not None and at < self._last - HALF_A_DAY:
            self.day += timedelta(days=1)
            at = on_day(self.day, minutes)
            self.remarks.append(f"{at:%H:%M} follows {self._last:%H:%M}: it is taken as a time of the next day, {self.day}.")
        self._last = at
        return at


def on_day(day: date, minutes: float) -> datetime:
    """Find the instant at a time of day (UTC).

    Parameters
    ----------
    day
        The day.
    minutes
        Minutes since its beginning.

    Returns
    -------
    datetime
        Aware, in UTC.
    """
    return plus_minutes(datetime.combine(day, time(), UTC), minutes)


def _minutes(cell: Cell) -> float:
    if (minutes := clock_minutes(cell)) is not None:
        return minutes
    text = cell_text(cell)
    if ":" not in text:
        raise ValueError(f"a clock time such as \"1:50\", not '{text}'")
    return parse_minutes(text)
