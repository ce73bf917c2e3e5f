"""Reads the times of a log sheet's rows as instants: PETs, times of day (UTC), or whole dates.

1. `1:50`, `1h50` and `1 h 50` are clock times: PETs or times of day, whichever the sheet holds.
2. A clock time with its own word says what it is, whatever the sheet holds: `PET 1:50`, `PET+1:50`, `T+1:50`, `T-0:10` and
   `1:50 PET` are PETs, `10:57 UTC` and `10:57Z` are times of day. A time alone with a plus before it is a PET.
3. A length in minutes, such as `45 min`, is a PET where the sheet holds PETs. A plain number is refused: it has no unit.
"""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta

from dashboard.core.base.times import parse_instant, parse_minutes, plus_minutes
from dashboard.log.log_sheet_options import ClockTimes
from dashboard.log.plan_sheet_words import spoken_minutes
from dashboard.log.rows import Cell, cell_text
from dashboard.log.spreadsheet_times import FIRST_YEAR, clock_minutes

HALF_A_DAY = timedelta(hours=12)
_DATED = re.compile(r"\d{4}-\d")
_BEFORE = re.compile(r"^(?:(?P<word>pet|utc)\b|t(?=\s*[+-])|(?=\+))\s*(?P<sign>[+-]?)\s*(?P<clock>\d.*)$", re.IGNORECASE)
_BEHIND = re.compile(r"^(?P<clock>\d.*?)\s*(?P<word>pet|utc|z)$", re.IGNORECASE)
_HOURS_MINUTES = re.compile(r"^\d{1,3}\s*h\s*[0-5]\d$", re.IGNORECASE)
_UNIT = re.compile(r"[a-z']", re.IGNORECASE)
_FORMS = 'a clock time such as "1:50", "1h50" or "PET 1:50"'


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
    by_pet, is_pet
        Whether any time so far, and whether the last one, was read as a PET.
    """

    def __init__(self, meaning: ClockTimes | None, pet_zero: datetime, day: date) -> None:
        self.meaning, self.pet_zero, self.day = meaning, pet_zero, day
        self.remarks: list[str] = []
        self.by_pet = self.is_pet = False
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
        self.is_pet = False
        if isinstance(cell, datetime) and cell.year > FIRST_YEAR:
            if cell.tzinfo is None and self.meaning != "utc":
                raise ValueError(f"a time with its zone, or the option --times utc, not {cell}")
            return cell.replace(tzinfo=UTC) if cell.tzinfo is None else cell.astimezone(UTC)
        text = cell_text(cell)
        if not text:
            raise ValueError("a time, not an empty cell")
        if _DATED.match(text):
            return parse_instant(text)
        meaning, minutes = _with_own_word(cell, self.meaning)
        if meaning is None:
            raise MeaningOfTimesMissing(text)
        if meaning == "utc":
            return self._time_of_day(minutes)
        self.by_pet = self.is_pet = True
        return plus_minutes(self.pet_zero, minutes)

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


def _with_own_word(cell: Cell, meaning: ClockTimes | None) -> tuple[ClockTimes | None, float]:
    """What a clock time is, by the word beside it or else by `meaning`, and its minutes."""
    if (minutes := clock_minutes(cell)) is not None:
        return meaning, minutes
    text = cell_text(cell).replace("\u2212", "-")
    found = _BEFORE.match(text) or _BEHIND.match(text)
    if found is None:
        return meaning, _minutes(text, text, meaning)
    own: ClockTimes = "utc" if (found["word"] or "").casefold() in ("utc", "z") else "pet"
    sign = found.groupdict().get("sign")
    if own == "utc" and sign:
        raise ValueError(f"{_FORMS}, not '{text}'")
    if own == "pet" and found["clock"] == "0":
        return own, 0.0
    minutes = _minutes(found["clock"], text, own)
    return own, -minutes if sign == "-" else minutes


def _minutes(clock: str, text: str, meaning: ClockTimes | None) -> float:
    """The minutes of a clock time, or of a length with its unit, which may stand for a PET."""
    if ":" in clock:
        try:
            return parse_minutes(clock)
        except ValueError:
            raise ValueError(f"{_FORMS}, not '{text}'") from None
    spoken = spoken_minutes(clock) if _UNIT.search(clock) else None
    if spoken is None or (meaning == "utc" and not _HOURS_MINUTES.match(clock)):
        raise ValueError(f"{_FORMS}, not '{text}'")
    return spoken
