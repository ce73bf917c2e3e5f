"""How a log sheet is to be read, as the person who imports it says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from dashboard.core.base.problems import InputError, Problem

ClockTimes = Literal["pet", "utc"]


@dataclass(frozen=True)
class SheetOptions:
    """How a sheet is to be read.

    Parameters
    ----------
    columns : mapping
        Name of a column for some of time, who, what and text; the others go by their common names.
    times : str or None
        What a clock time such as 1:50 means: `pet`, or `utc` as a time of day. None: the name of the column says.
    day : date or None
        Day of the run; None: that of the planned start.
    pet_zero : str or None
        Time of day (UTC) of PET zero, where no row gives it.
    matches : mapping
        Words of the sheet, and the task or contingency that they mean.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    times: ClockTimes | None = None
    day: date | None = None
    pet_zero: str | None = None
    matches: Mapping[str, str] = field(default_factory=dict)


def pairs_of(option: str, given: Sequence[str]) -> dict[str, str]:
    """``name=value`` words of an option, several in one separated by commas.

    Raises
    ------
    InputError
        When one of them is no such pair.
    """
    found = {}
    for part in (part for text in given for part in text.split(",")):
        name, equals, value = part.partition("=")
        if not equals or not name.strip() or not value.strip():
            raise InputError(
                [Problem(f"option {option}", "name=value", f"'{part}'", f"For instance {option} time=UTC")]
            )
        found[name.strip()] = value.strip()
    return found
