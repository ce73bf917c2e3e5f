"""Writes a plan as TOML that a person can read: defaults are left out, PET is written ``H:MM``."""

from __future__ import annotations

from typing import Any

import tomlkit
from pydantic import BaseModel

from dashboard.core.plan.model import Contingency, Duration, Plan

CLOCKS = ("start", "not_before", "leave_by", "from", "to", "limit")  # PET; the other minutes stay plain numbers


def plan_to_toml(plan: Plan) -> str:
    """Write a plan as the text of a plan file.

    Parameters
    ----------
    plan
        Any plan.

    Returns
    -------
    str
        Reading it gives the same plan.
    """
    document = tomlkit.document()
    document["sortie"] = {**_table(plan.sortie), "start": plan.sortie.start}
    for key, items in (
        ("lane", plan.lanes), ("suit", plan.suits), ("worksite", plan.worksites), ("route", plan.routes),
        ("window", plan.windows), ("task", plan.tasks), ("contingency", plan.contingencies),
        ("alternative", plan.alternatives), ("check", plan.checks),
    ):
        if items:
            tables = tomlkit.aot()
            for item in items:
                tables.append(_toml_table(item))
            document[key] = tables
    return tomlkit.dumps(document)


def entry_text(table: str, item: BaseModel) -> str:
    """Write one entry of a table as TOML.

    Parameters
    ----------
    table
        The table of the plan file, such as ``task``.
    item
        The entry.

    Returns
    -------
    str
        With its header.
    """
    document = tomlkit.document()
    tables = tomlkit.aot()
    tables.append(_toml_table(item))
    document[table] = tables
    return tomlkit.dumps(document)


def item_table(item: BaseModel) -> dict[str, Any]:
    """Write an entry of a table, such as a task, with the keys and values of the plan file.

    Parameters
    ----------
    item
        A task, a lane, a worksite or any other entry of a plan.

    Returns
    -------
    dict
        Defaults are left out. Minutes are whole numbers if they can be; PET is ``H:MM`` if that is exact.
    """
    return _table(item)


def minutes_value(minutes: float) -> int | float:
    """Write minutes as a whole number if they are one.

    Parameters
    ----------
    minutes
        Any number of minutes.

    Returns
    -------
    int or float
        Minutes.
    """
    return int(minutes) if float(minutes).is_integer() else minutes


def clock_value(minutes: float) -> str | int | float:
    """Write a PET as ``H:MM`` if that is exact.

    Parameters
    ----------
    minutes
        PET minutes.

    Returns
    -------
    str, int or float
        ``H:MM``; minutes when they are not whole or are negative.
    """
    if float(minutes).is_integer() and minutes >= 0:
        return f"{int(minutes) // 60}:{int(minutes) % 60:02d}"
    return minutes_value(minutes)


def _toml_table(item: BaseModel) -> Any:
    table = tomlkit.table()
    for key, value in _table(item).items():
        if isinstance(item, Contingency) and key == "task":
            steps = tomlkit.aot()
            for task in item.tasks:
                steps.append(_toml_table(task))
            table[key] = steps
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            parts = tomlkit.array()
            for part in value:
                inline = tomlkit.inline_table()
                inline.update(part)
                parts.append(inline)
            table[key] = parts
        else:
            table[key] = value
    return table


def _table(item: BaseModel) -> dict[str, Any]:
    table: dict[str, Any] = {}
    for name, field in type(item).model_fields.items():
        value = getattr(item, name)
        if value is None or (not field.is_required() and value == field.default):
            continue
        key = field.alias or name
        table[key] = _plain(key, value)
    return table


def _plain(key: str, value: Any) -> Any:
    if isinstance(value, Duration):
        points = [minutes_value(part) for part in (value.low, value.likely, value.high)]
        return points[1] if len(set(points)) == 1 and not value.exact else points
    if isinstance(value, BaseModel):
        return _table(value)
    if isinstance(value, tuple):
        return [_plain("", part) for part in value]
    if isinstance(value, dict):
        return {name: _plain("", part) for name, part in value.items()}
    if isinstance(value, float):
        return clock_value(value) if key in CLOCKS else minutes_value(value)
    return value
