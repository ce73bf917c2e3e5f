"""Options for reading a log sheet, as given by the person who imports it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from dashboard.core.base.problems import InputError, Problem

ClockTimes = Literal["pet", "utc"]


@dataclass(frozen=True)
class SheetOptions:
    """How a log sheet is to be read.

    Parameters
    ----------
    columns
        Name of a column for some of time, who, what and text. The other fields are found by their common names.
    times
        What a clock time such as 1:50 means: `pet`, or `utc` for a time of day. None: the name of the column tells.
    day
        Day of the run; None: the day of the planned start.
    pet_zero
        Time of day (UTC) of PET zero, for a sheet in which no row gives it; None: not given.
    matches
        For words of the sheet, the task or contingency that they mean.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    times: ClockTimes | None = None
    day: date | None = None
    pet_zero: str | None = None
    matches: Mapping[str, str] = field(default_factory=dict)


def pairs_of(option: str, given: Sequence[str]) -> dict[str, str]:
    """Read the ``name=value`` pairs of an option.

    Parameters
    ----------
    option
        Name of the option, for the error.
    given
        Its texts; one text may hold several pairs, separated by commas.

    Returns
    -------
    dict
        Value by name, both without spaces around them.

    Raises
    ------
    InputError
        When a part is not such a pair.
    """
    found = {}
    for part in (part for text in given for part in text.split(",")):
        name, equals, value = part.partition("=")
        if not equals or not name.strip() or not value.strip():
            raise InputError(
                [Problem(f"option {option}", "name=value", f"'{part}'", f"For instance {option} time=UTC.")]
            )
        found[name.strip()] = value.strip()
    return found
