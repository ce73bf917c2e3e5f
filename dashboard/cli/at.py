"""Reads the option ``--at``: a PET or an instant."""

from __future__ import annotations

from datetime import datetime

from dashboard.core.base.problems import InputError, Problem
from dashboard.core.base.times import minutes_between, parse_instant, parse_minutes, plus_minutes
from dashboard.words import pet_named

EARLIEST_PET_MIN = -24 * 60.0
LATEST_PET_MIN = 48 * 60.0


def is_pet(text: str) -> bool:
    """Tell whether the text of ``--at`` is a PET.

    Parameters
    ----------
    text
        The text of the option.

    Returns
    -------
    bool
        False for an instant, and for a text that is neither.
    """
    try:
        parse_minutes(text)
    except ValueError:
        return False
    return True


def instant_at(
    text: str,
    pet_zero: datetime,
    earliest_pet_min: float = EARLIEST_PET_MIN,
    latest_pet_min: float = LATEST_PET_MIN,
) -> datetime:
    """Find the instant that ``--at`` gives.

    Parameters
    ----------
    text
        A PET or an instant.
    pet_zero
        The instant from which PETs count; aware.
    earliest_pet_min, latest_pet_min
        The allowed range, PET minutes.

    Returns
    -------
    datetime
        Aware, in UTC.

    Raises
    ------
    InputError
        When the text is neither a PET nor an instant, or lies outside the range.
    """
    cure = "Give a PET such as 2:05, or an instant such as 2031-04-12T11:15:00Z."
    try:
        instant = plus_minutes(pet_zero, parse_minutes(text.removeprefix("PET").strip()))
    except (ValueError, OverflowError):
        try:
            instant = parse_instant(text)
        except ValueError as wrong:
            expected = "a PET or an instant with its zone" if "zone" in str(wrong) else "a PET or an instant"
            raise InputError([Problem("option --at", expected, f"'{text}'", cure)]) from None
    pet_min = minutes_between(pet_zero, instant)
    if not earliest_pet_min <= pet_min <= latest_pet_min:
        expected = f"a time from {pet_named(earliest_pet_min)} to {pet_named(latest_pet_min)}"
        raise InputError([Problem("option --at", expected, f"{pet_named(pet_min)} ('{text}')", cure)])
    return instant
