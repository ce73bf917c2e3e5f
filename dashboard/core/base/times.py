"""Instants, PET and durations: reading them from text, and CCSDS ASCII time codes.

Instants are aware `datetime` in UTC. PET and durations are floats in minutes.
"""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime, timedelta

_PET = re.compile(r"^(-?)(\d{1,3}):([0-5]\d)(?::([0-5]\d(?:\.\d+)?))?$")
_NUMBER = re.compile(r"^-?\d+(\.\d+)?$")
_CODE_A = re.compile(r"^(\d{4})-(\d{2})-(\d{2})T(\d{2}):(\d{2}):(\d{2})(?:\.(\d+))?(Z?)$")
_CODE_B = re.compile(r"^(\d{4})-(\d{3})T(\d{2}):(\d{2}):(\d{2})(?:\.(\d+))?(Z?)$")
_RFC3339 = re.compile(
    r"^(\d{4})-(\d{2})-(\d{2})[Tt](\d{2}):(\d{2}):(\d{2})(?:\.(\d+))?(?:([Zz])|([+-])(\d{2}):(\d{2}))$"
)


def parse_minutes(value: object) -> float:
    """Minutes from a number of minutes, a numeric string, or an ``H:MM[:SS]`` string.

    Parameters
    ----------
    value : object

    Returns
    -------
    float
        Minutes.

    Raises
    ------
    ValueError
        When `value` is none of these. The message says what was expected.
    """
    if isinstance(value, bool):
        raise ValueError(f'minutes or "H:MM", not {value}')
    if isinstance(value, int | float):
        return _finite(value)
    if isinstance(value, str):
        text = value.strip()
        match = _PET.match(text)
        if match:
            sign, hours, minutes, seconds = match.groups()
            total = int(hours) * 60 + int(minutes) + (float(seconds) / 60 if seconds else 0.0)
            return -total if sign else total
        if _NUMBER.match(text):
            return _finite(float(text))
    raise ValueError(f'minutes (a number) or "H:MM", not {value!r}')


def _finite(number: float) -> float:
    """The number as a float. A number too large for a float is refused; the message does not print it."""
    try:
        minutes = float(number)
    except OverflowError:
        raise ValueError("a finite number of minutes, not one of hundreds of digits") from None
    if not math.isfinite(minutes):
        raise ValueError(f"a finite number of minutes, not {minutes}")
    return minutes


def parse_instant(value: object) -> datetime:
    """An instant from RFC 3339 text or CCSDS 301.0-B-4 ASCII time code A or B.

    RFC 3339 needs its zone (``Z`` or an offset). The CCSDS codes are UTC by definition, so code B
    (``YYYY-DDDThh:mm:ss.d->dZ``) may come with or without the terminator ``Z``. Code A without the terminator
    is refused, because it looks like a local time without its zone, which would be wrong by hours.

    Parameters
    ----------
    value : object
        Text or a `datetime`.

    Returns
    -------
    datetime
        Aware, in UTC.

    Raises
    ------
    ValueError
        When `value` is not such an instant or has no zone. The message says what was expected.
    """
    if isinstance(value, datetime):
        if value.tzinfo is None:
            raise ValueError(f"a time with its zone (end it with Z for UTC), not {value.isoformat()}")
        return value.astimezone(UTC)
    if not isinstance(value, str):
        raise ValueError(f"an instant as text, such as 2031-04-12T09:10:00Z, not {value!r}")
    text = value.strip()
    if match := _RFC3339.match(text):
        year, month, day, hour, minute, second, fraction, _, sign, zone_h, zone_m = match.groups()
        instant = _build(text, int(year), int(month), int(day), hour, minute, second, fraction)
        if sign:
            if int(zone_h) > 23 or int(zone_m) > 59:
                raise ValueError(f"an offset up to 23:59, not {sign}{zone_h}:{zone_m}")
            shift = timedelta(hours=int(zone_h), minutes=int(zone_m))
            try:
                instant = instant - shift if sign == "+" else instant + shift
            except OverflowError:
                raise ValueError(f"an instant of the years 1 to 9999 in UTC, not '{text}'") from None
        return instant
    if match := _CODE_B.match(text):
        year, day_of_year, hour, minute, second, fraction, _ = match.groups()
        days = 366 if _is_leap(int(year)) else 365
        if not 1 <= int(day_of_year) <= days:
            raise ValueError(f"a day of year from 001 to {days} in {year}, not {day_of_year}")
        first = _build(text, int(year), 1, 1, hour, minute, second, fraction)
        return first + timedelta(days=int(day_of_year) - 1)
    if _CODE_A.match(text) or re.match(r"^\d{4}-\d{2}-\d{2}[ T]\d{2}:\d{2}", text):
        raise ValueError(f"a time with its zone (end it with Z for UTC), not '{text}'")
    raise ValueError(f"an instant such as 2031-04-12T09:10:00Z or 2031-102T09:10:00Z, not '{text[:60]}'")


def _is_leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)


def _build(
    text: str, year: int, month: int, day: int, hour: str, minute: str, second: str, fraction: str | None
) -> datetime:
    if second == "60":
        raise ValueError(f"a second from 00 to 59 (a leap second has no place in PET arithmetic), not '{text}'")
    microsecond = int((fraction or "0").ljust(6, "0")[:6])
    try:
        return datetime(year, month, day, int(hour), int(minute), int(second), microsecond, tzinfo=UTC)
    except ValueError as wrong:
        raise ValueError(f"a real date and time, not '{text}' ({wrong})") from None


def instant_text(instant: datetime) -> str:
    """The instant as RFC 3339 in UTC, which is also CCSDS ASCII time code A with its terminator.

    Parameters
    ----------
    instant
        Aware, in any zone.

    Returns
    -------
    str
        With at most six decimals of a second, and none where they are zeros.
    """
    utc = instant.astimezone(UTC)
    return _trim_zeros(f"{utc.year:04d}-{utc:%m-%dT%H:%M:%S.%f}") + "Z"


def _trim_zeros(text: str) -> str:
    return text.rstrip("0").rstrip(".") if "." in text else text


def minutes_between(earlier: datetime, later: datetime) -> float:
    """Minutes from `earlier` to `later`.

    Parameters
    ----------
    earlier, later
        Both aware.

    Returns
    -------
    float
        Negative when `later` comes first.
    """
    return (later - earlier).total_seconds() / 60.0


def plus_minutes(instant: datetime, minutes: float) -> datetime:
    """The instant `minutes` after `instant`.

    Parameters
    ----------
    instant
        The result has its zone.
    minutes
        Negative for an instant before it.

    Returns
    -------
    datetime
        To the microsecond.

    Raises
    ------
    OverflowError
        When the result lies outside the years 1 to 9999.
    """
    return instant + timedelta(minutes=minutes)
