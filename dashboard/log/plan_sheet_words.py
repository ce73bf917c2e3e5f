"""Reads lengths of time and times of the clock as people write them in sheets: ``40 min``, ``1h30``, ``1.5 h``, ``1:50 PM``."""

from __future__ import annotations

import re

from dashboard.core.base.times import parse_minutes

_HOURS_AND_MINUTES = re.compile(
    r"^(?P<hours>\d{1,3})\s*h(?:rs?|ours?)?\.?\s*(?:(?P<minutes>[0-5]?\d)\s*(?:m|min|mins|minutes?|')?\.?)?$", re.IGNORECASE
)
_HOURS = re.compile(r"^(?P<hours>\d+[.,]\d+)\s*h(?:rs?|ours?)?\.?$", re.IGNORECASE)
_MINUTES = re.compile(r"^(?P<minutes>\d+(?:[.,]\d+)?)\s*(?:m|min|mins|minutes?|')\.?$", re.IGNORECASE)
_DECIMAL_COMMA = re.compile(r"^\d+,\d{1,2}$|^0,\d+$")
_CLOCK = re.compile(r"^(?:pet\s*\+?\s*|t?\s*\+\s*)?(?P<clock>\d{1,3}:[0-5]\d(?::[0-5]\d)?)\s*(?:h|hrs?|pet)?\.?$", re.IGNORECASE)
_HALF_DAY = re.compile(r"^(?P<hour>0?\d|1[0-2]):(?P<rest>[0-5]\d(?::[0-5]\d)?)\s*(?P<half>[ap])\.?m\.?$", re.IGNORECASE)


def spoken_minutes(text: str) -> float | None:
    """Read a length or a PET that people wrote with a unit or with a decimal comma.

    Parameters
    ----------
    text
        The text of a cell, without spaces around it.

    Returns
    -------
    float or None
        Minutes; None when the text is none of the forms that are known. ``1:50`` and ``40`` are not read here.
    """
    if found := _HOURS_AND_MINUTES.match(text):
        return int(found["hours"]) * 60.0 + int(found["minutes"] or 0)
    if found := _HOURS.match(text):
        return number(found["hours"]) * 60.0
    if found := _MINUTES.match(text):
        return number(found["minutes"])
    if _DECIMAL_COMMA.match(text):
        return number(text)
    if found := _CLOCK.match(text):
        return parse_minutes(found["clock"])
    if found := _HALF_DAY.match(text):
        hour = int(found["hour"]) % 12 + (12 if found["half"].casefold() == "p" else 0)
        return parse_minutes(f"{hour}:{found['rest']}")
    return None


def number(text: str) -> float:
    """Read a number with a decimal point or a decimal comma.

    Parameters
    ----------
    text
        Digits with at most one of the two.

    Returns
    -------
    float
        Its value.
    """
    return float(text.replace(",", "."))
