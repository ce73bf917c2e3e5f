"""Converts between the cells of a task sheet and the values of the plan file.

Lists are separated by spaces, `follows` is written ``T070+5`` (lag in minutes), a three-point duration ``30/40/65``. Cells of
real sheets are read as well: lengths with units, times of the spreadsheet, lists with commas. `Taken.how` says so.
"""

from __future__ import annotations

import re
from collections.abc import Container, Mapping
from contextlib import suppress
from datetime import date, datetime
from typing import Any, NamedTuple

from dashboard.core.base.times import parse_minutes
from dashboard.log.plan_sheet_words import number, spoken_minutes
from dashboard.log.rows import Cell, cell_text
from dashboard.log.spreadsheet_times import clock_minutes

LISTS = ("lanes", "after", "obliges", "serves", "can_move_to", "needs")
TEXTS = ("id", "title", "worksite", "activity", "together", "leg", "notes", "contingency")
TIMES = ("start", "shortest", "closeout", "not_before", "end", "low", "likely", "high")
YES_NO = ("required", "get_ahead", "boxed")
YES_NO_WORDS = {
    **dict.fromkeys(("x", "yes", "y", "true", "1", "\u2713", "\u2714"), True),
    **dict.fromkeys(("no", "n", "false", "0", "-"), False),
}
_IN_LISTS = re.compile(r"[\s,;&/+]+|\band\b")
_WATTS = re.compile(r"^(\d+(?:\.\d+)?)\s*(?:w|watts?)$", re.IGNORECASE)
_PRIORITY = re.compile(r"^(?:p|prio|priority)\.?\s*(\d)$", re.IGNORECASE)


class Taken(NamedTuple):
    """The value that a cell gives, and how it was read where it is not in the form of the plan file (empty: it is)."""

    value: Any
    how: str = ""


def plan_value(name: str, cell: Cell, in_hours: bool = False, known: Container[str] = ()) -> Taken:
    """Read the value of a cell as the plan file would have it.

    Parameters
    ----------
    name
        A key of ``[[task]]``, ``contingency``, or a column that no task has (`dashboard.log.plan_sheet_columns.FURTHER`).
    cell
        A cell that is not empty.
    in_hours
        Whether plain numbers are hours, for a time or a duration.
    known
        Names that the plan has. A list is split at commas and strokes too, but never inside such a name.

    Returns
    -------
    Taken
        A text, a number of minutes, a list, or for `follows` a list of tables. A cell that does not fit the key comes back as it
        is, for the check of the plan to report.

    Raises
    ------
    ValueError
        When the spreadsheet made a date of the value; the message is ``<expected>, not <found>``.
    """
    as_time = name in TIMES or (name == "duration" and clock_minutes(cell) is not None)
    if isinstance(cell, datetime | date) and not as_time:
        raise ValueError(f"{_example(name)}, not a date ({cell:%Y-%m-%d}) that the spreadsheet made of it")
    if isinstance(cell, str):
        cell = cell.strip()
    if name in LISTS:
        return _list(cell_text(cell), known)
    if name in TEXTS:
        return Taken(cell_text(cell))
    if name == "follows":
        return Taken([_follow(part) for part in cell_text(cell).split()])
    if name == "duration":
        return _duration(cell, in_hours)
    if name in TIMES:
        return _minutes(cell, in_hours)
    if name in YES_NO:
        return Taken(YES_NO_WORDS.get(cell_text(cell).lower(), cell))
    return _number(name, cell)


def _example(name: str) -> str:
    return "a duration such as 40 or 30 40 65" if name == "duration" else f"a value for '{name}'"


def _list(text: str, known: Container[str]) -> Taken:
    names: list[str] = []
    for part in text.split():
        names += [part] if part in known else [one for one in _IN_LISTS.split(part) if one]
    names = [one for one in names if one in known or one.casefold() != "and"]
    return Taken(names, "" if names == text.split() else "a list")


def _number(name: str, cell: Cell) -> Taken:
    if not isinstance(cell, str):
        return Taken(cell)
    try:
        return Taken(float(cell))
    except ValueError:
        pass
    if name == "workload" and (watts := _WATTS.match(cell)):
        return Taken(float(watts[1]), "watts")
    if name == "priority" and (priority := _PRIORITY.match(cell)):
        return Taken(float(priority[1]), "the number of the priority")
    return Taken(number(cell), "a decimal comma") if re.match(r"^\d+,\d+$", cell) else Taken(cell)


def _minutes(cell: Cell, in_hours: bool) -> Taken:
    """Minutes of a cell. A spreadsheet stores ``1:50`` as a time of day."""
    if (minutes := clock_minutes(cell)) is not None:
        return Taken(minutes, "a time of the spreadsheet")
    if isinstance(cell, datetime):
        raise ValueError(f'minutes or "H:MM", not a date ({cell:%Y-%m-%d})')
    if isinstance(cell, str):
        with suppress(ValueError):
            plain = parse_minutes(cell)
            if ":" in cell:
                return Taken(cell)
            return Taken(plain * 60, "hours") if in_hours else Taken(plain)
        if (minutes := spoken_minutes(cell)) is None:
            return Taken(cell)
        decimal_comma = in_hours and re.match(r"^[\d,]+$", cell)
        return Taken(minutes * 60, "hours") if decimal_comma else Taken(minutes, "minutes")
    if isinstance(cell, int | float) and not isinstance(cell, bool) and in_hours:
        return Taken(cell * 60, "hours")
    return Taken(cell)


def _duration(cell: Cell, in_hours: bool) -> Taken:
    if isinstance(cell, str) and re.search(r"[/\s]", cell) and _minutes(cell, in_hours).value == cell:
        unit = _UNIT_BEHIND.search(cell)
        texts = [part for part in re.split(r"[/\s]+", cell[: unit.start()] if unit else cell) if part]
        hours = in_hours if unit is None else unit["unit"].casefold().startswith("h")
        parts = [_minutes(part, hours) for part in texts]
        if any(isinstance(one.value, str) and ":" not in one.value for one in parts):
            return Taken(cell)
        how = "minutes" if unit else next((one.how for one in parts if one.how), "")
        return Taken([one.value for one in parts], how) if len(parts) > 1 else Taken(parts[0].value if parts else cell, how)
    return _minutes(cell, in_hours)


_UNIT_BEHIND = re.compile(r"(?<=[\d\s])(?P<unit>h|hrs?|hours|m|min|mins|minutes)\.?$", re.IGNORECASE)


def _follow(text: str) -> dict[str, Any]:
    name, plus, lag = text.rpartition("+")
    if not plus or not name:
        return {"task": text}
    try:
        return {"task": name, "lag": parse_minutes(lag)}
    except ValueError:
        return {"task": text}


def plan_cell(value: Any) -> Any:
    """Write a value of the plan file as a cell; `plan_value` reads it back.

    Parameters
    ----------
    value
        As in the plan file; None when the key is absent.

    Returns
    -------
    Any
        A text or a number; an empty text for None and for false.
    """
    if isinstance(value, bool):
        return "yes" if value else ""
    if isinstance(value, list) and value and isinstance(value[0], int | float):
        return "/".join(str(part) for part in value)
    if isinstance(value, list):
        return " ".join(_follow_text(part) if isinstance(part, Mapping) else str(part) for part in value)
    return "" if value is None else value


def _follow_text(follow: Mapping[str, Any]) -> str:
    name, lag = str(follow["task"]), follow.get("lag", 0)
    return f"{name}+{lag}" if lag or "+" in name else name
