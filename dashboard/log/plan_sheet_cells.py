"""Converts between the cells of a task sheet and the values of the plan file.

Lists are separated by spaces, `follows` is written ``T070+5`` (lag in minutes), a three-point duration ``30/40/65``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from dashboard.core.base.times import parse_minutes
from dashboard.log.rows import Cell, cell_text
from dashboard.log.spreadsheet_times import clock_minutes

LISTS = ("lanes", "after", "obliges", "serves", "can_move_to", "needs")
TEXTS = ("id", "title", "worksite", "activity", "together", "leg", "notes", "contingency")
TIMES = ("start", "shortest", "closeout", "not_before")
YES_NO = ("required", "get_ahead", "boxed")
YES_NO_WORDS = {"x": True, "yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}


def plan_value(name: str, cell: Cell) -> Any:
    """Read the value of a cell as the plan file would have it.

    Parameters
    ----------
    name
        The column: a key of ``[[task]]``, or ``contingency``.
    cell
        A cell that is not empty.

    Returns
    -------
    Any
        A text, a number of minutes, a list, or for `follows` a list of tables. A cell that does not fit the key comes back as it
        is, for the check of the plan to report.

    Raises
    ------
    ValueError
        When the spreadsheet made a date of the value; the message is ``<expected>, not <found>``.
    """
    if isinstance(cell, datetime | date) and name not in TIMES:
        raise ValueError(f"{_example(name)}, not a date ({cell:%Y-%m-%d}) that the spreadsheet made of it")
    if isinstance(cell, str):
        cell = cell.strip()
    if name in LISTS:
        return cell_text(cell).split()
    if name in TEXTS:
        return cell_text(cell)
    if name == "follows":
        return [_follow(part) for part in cell_text(cell).split()]
    if name == "duration":
        return _duration(cell)
    if name in TIMES:
        return _minutes(cell)
    if name in YES_NO:
        return YES_NO_WORDS.get(cell_text(cell).lower(), cell)
    return _number(cell)


def _example(name: str) -> str:
    return "a duration such as 40 or 30 40 65" if name == "duration" else f"a value for '{name}'"


def _number(cell: Cell) -> Any:
    try:
        return float(cell) if isinstance(cell, str) else cell
    except ValueError:
        return cell


def _minutes(cell: Cell) -> Any:
    """Minutes of a cell. A spreadsheet stores ``1:50`` as a time of day."""
    if (minutes := clock_minutes(cell)) is not None:
        return minutes
    if isinstance(cell, datetime):
        raise ValueError(f'minutes or "H:MM", not a date ({cell:%Y-%m-%d})')
    return _number(cell)


def _duration(cell: Cell) -> Any:
    parts = re.split(r"[/\s]+", cell) if isinstance(cell, str) else [cell]
    values = [_minutes(part) for part in parts]
    return values[0] if len(values) == 1 else values


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
    return f"{follow['task']}+{follow['lag']}" if follow.get("lag") else str(follow["task"])
