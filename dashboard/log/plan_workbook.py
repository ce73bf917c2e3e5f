"""The other tables of a plan as sheets of a workbook, beside the sheet of its tasks: one sheet per table, one row per entry.

Each sheet has the keys of its table as column names. Three tables are written differently: `sortie` has one row per key, `suits`
one row per suit and consumable, `alternatives` one row per option. An empty cell is an absent key.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

from pydantic import BaseModel

from dashboard.core.base.problems import Problem, did_you_mean
from dashboard.core.base.times import instant_text
from dashboard.core.plan.fields import Place
from dashboard.core.plan.model import (
    CONSUMABLES,
    Check,
    Consumable,
    Contingency,
    Lane,
    Plan,
    Route,
    Sortie,
    Window,
    Worksite,
)
from dashboard.log.limits import PLAN_SHEET
from dashboard.log.plan_sheet import Spot
from dashboard.log.plan_sheet_cells import plan_cell, plan_value
from dashboard.log.plantext import item_table
from dashboard.log.rows import Cell, cell_text, is_filled
from dashboard.log.table import Table, table_of
from dashboard.log.xlsx_rows import Sheet

SORTIE = "sortie"
KEY, VALUE = "key", "value"


class TableSheet(NamedTuple):
    """How a table of the plan stands in a sheet: the name of the table, and its columns."""

    table: str
    columns: tuple[str, ...]


def _keys(model: type[BaseModel], without: Iterable[str] = ()) -> tuple[str, ...]:
    return tuple(key for name, field in model.model_fields.items() if (key := field.alias or name) not in without)


SHEETS: Mapping[str, TableSheet] = {
    SORTIE: TableSheet(SORTIE, (KEY, VALUE)),
    "lanes": TableSheet("lane", _keys(Lane)),
    "suits": TableSheet("suit", ("id", "consumable", *_keys(Consumable))),
    "worksites": TableSheet("worksite", _keys(Worksite)),
    "routes": TableSheet("route", _keys(Route)),
    "windows": TableSheet("window", _keys(Window)),
    "contingencies": TableSheet("contingency", _keys(Contingency, ("task",))),
    "alternatives": TableSheet("alternative", ("id", "title", "default", "option", "tasks")),
    "checks": TableSheet("check", _keys(Check)),
}
_TEXTS = ("id", "title", "kind", "suit", "trigger", "default", "option", "consumable")
_LISTS = ("lanes", "hold", "tasks")
_MINUTES = ("limit", "lead", "return", "leave_by", "every")


class OtherTables(NamedTuple):
    """The tables of a workbook besides its tasks, the problems of its cells, and where each entry stands."""

    tables: dict[str, Any]
    problems: list[Problem]
    spots: dict[Place, Spot]


def rows_of_tables(plan: Plan) -> dict[str, list[list[Any]]]:
    """Write the tables of a plan other than its tasks as rows, each with its row of column names.

    Parameters
    ----------
    plan
        Any plan.

    Returns
    -------
    dict
        Rows by name of the sheet; a table without entries has no sheet.
    """
    sortie = {**item_table(plan.sortie), "start": instant_text(plan.sortie.start)}
    entries: dict[str, list[dict[str, Any]]] = {
        SORTIE: [{KEY: key, VALUE: value} for key, value in sortie.items()],
        "suits": [row for suit in plan.suits for row in _suit_rows(item_table(suit))],
        "contingencies": [{k: v for k, v in item_table(one).items() if k != "task"} for one in plan.contingencies],
        "alternatives": [
            {"id": one.id, "title": one.title, "default": one.default, "option": option, "tasks": list(tasks)}
            for one in plan.alternatives for option, tasks in one.options.items()
        ],
    }
    for sheet, items in (
        ("lanes", plan.lanes), ("worksites", plan.worksites), ("routes", plan.routes), ("windows", plan.windows),
        ("checks", plan.checks),
    ):
        entries[sheet] = [item_table(item) for item in items]
    return {
        sheet: [list(how.columns), *([plan_cell(entry.get(key)) for key in how.columns] for entry in entries[sheet])]
        for sheet, how in SHEETS.items() if entries[sheet]
    }


def _suit_rows(suit: dict[str, Any]) -> list[dict[str, Any]]:
    rows = [{"id": suit["id"], "consumable": name, **suit[name]} for name in CONSUMABLES if name in suit]
    return rows or [{"id": suit["id"]}]


def read_other_tables(path: Path, sheets: Iterable[Sheet]) -> OtherTables | None:
    """Read the tables of a workbook other than its tasks.

    Parameters
    ----------
    path
        The workbook, to be named in problems.
    sheets
        All its sheets.

    Returns
    -------
    OtherTables or None
        None when the workbook has no sheet `sortie`: then it holds tasks only.

    Raises
    ------
    InputError
        When one of these sheets may not be used, for instance because of its size.
    """
    by_name = {sheet.name.casefold(): sheet for sheet in sheets}
    if SORTIE not in by_name:
        return None
    found = OtherTables({}, [], {})
    for name, how in SHEETS.items():
        if name in by_name and (by_name[name].rows or by_name[name].fault):
            table = table_of(path, by_name[name], PLAN_SHEET, partial(_known_columns, how))
            entries = _entries(table, how, found.problems)
            _PUT.get(name, _put_entries)(found, how.table, table, entries)
    return found


def _known_columns(how: TableSheet, names: Iterable[str]) -> int:
    """How many of these names are columns of the sheet."""
    return len({*names} & {*how.columns})


Entry = tuple[int, dict[str, Any]]


def _entries(table: Table, how: TableSheet, problems: list[Problem]) -> list[Entry]:
    """The rows as tables, each with the number of its row."""
    names = [name.strip() for name in table.columns]
    for name in names:
        if name and name not in how.columns:
            problems.append(Problem(
                f"sheet {table.sheet}, column '{name}'", f"a key of '{how.table}'", f"'{name}'", did_you_mean(name, how.columns),
                table.place(table.header_row, name),
            ))
    entries = []
    for row in table.rows:
        entry = {}
        for at, cell in enumerate(row.cells):
            if is_filled(cell):
                name = names[at] if at < len(names) else ""
                if name in how.columns:
                    entry[name] = _value(how.table, name, cell)
                elif not name:
                    problems.append(Problem(
                        f"sheet {table.sheet}, row {row.number}", "cells only under column names",
                        f"'{cell}' in column {table.column_name(at)}", "Name the column, or empty the cell.",
                        table.place(row.number, table.column_name(at)),
                    ))
        if entry:
            entries.append((row.number, entry))
    return entries


def _value(table: str, name: str, cell: Cell) -> Any:
    if name == VALUE and table == SORTIE:
        return cell  # what it means depends on the key beside it
    if name in _TEXTS or (table == "route" and name in ("from", "to")):
        return cell_text(cell)
    if name in _LISTS:
        return cell_text(cell).split()
    if name == "duration":
        return plan_value("duration", cell).value
    if name in _MINUTES or table == "window":
        return plan_value("start", cell).value
    return _number(cell)


def _number(cell: Cell) -> Any:
    if isinstance(cell, str):
        with suppress(ValueError):
            return float(cell)
        return cell.strip()
    return cell


def _put_entries(found: OtherTables, name: str, table: Table, entries: list[Entry]) -> None:
    found.tables[name] = [entry for _, entry in entries]
    for at, (row, _) in enumerate(entries):
        found.spots[name, at] = _spot(table, row)


def _put_sortie(found: OtherTables, name: str, table: Table, entries: list[Entry]) -> None:
    sortie: dict[str, Any] = {}
    found.tables[name] = sortie
    found.spots[(name,)] = _spot(table, table.header_row)
    for row, entry in entries:
        key = cell_text(entry.get(KEY, ""))
        if key and VALUE in entry:
            sortie[key] = _sortie_value(key, entry[VALUE])
            found.spots[name, key] = _spot(table, row)
        else:
            found.problems.append(Problem(
                f"sheet {table.sheet}, row {row}", "a key of [sortie] and its value", ", ".join(map(str, entry.values())),
                f"Fill both cells, or empty the row. Keys: {', '.join(_keys(Sortie))}.", table.place(row),
            ))


def _sortie_value(key: str, cell: Cell) -> Any:
    if key == "start" and isinstance(cell, datetime):
        return cell.replace(tzinfo=UTC) if cell.tzinfo is None else cell
    if key in ("id", "title", "start"):
        return cell_text(cell)
    return plan_value("start", cell).value if key in ("limit", "reserve", "lead") else _number(cell)


def _put_suits(found: OtherTables, name: str, table: Table, entries: list[Entry]) -> None:
    suits: dict[str, dict[str, Any]] = {}
    for row, entry in entries:
        suit = suits.setdefault(entry.get("id", ""), {"id": entry["id"]} if "id" in entry else {})
        at = list(suits).index(entry.get("id", ""))
        found.spots.setdefault((name, at), _spot(table, row))
        consumable = entry.get("consumable")
        values = {key: value for key, value in entry.items() if key not in ("id", "consumable")}
        if consumable is None and not values:
            continue
        if consumable is None or consumable in suit or consumable not in CONSUMABLES:
            twice = consumable is not None and consumable in suit
            found.problems.append(Problem(
                f"sheet {table.sheet}, row {row}", f"one row for each of {', '.join(CONSUMABLES)}",
                f"a second row for '{consumable}'" if twice else f"'{consumable or 'none'}'", "Correct the cell 'consumable'.",
                table.place(row, "consumable"),
            ))
            continue
        suit[consumable] = values
        found.spots[name, at, consumable] = _spot(table, row)
    found.tables[name] = list(suits.values())


def _put_alternatives(found: OtherTables, name: str, table: Table, entries: list[Entry]) -> None:
    made: dict[str, dict[str, Any]] = {}
    for row, entry in entries:
        key = entry.get("id", "")
        about = {part: value for part, value in entry.items() if part in ("id", "title", "default")}
        one = made.setdefault(key, {**about, "options": {}})
        found.spots.setdefault((name, list(made).index(key)), _spot(table, row))
        option = entry.get("option")
        differs = [part for part, value in about.items() if one.get(part, value) != value]
        if option is None or option in one["options"] or differs:
            wrong = f"another '{differs[0]}' than in the row before" if differs else "a second row" if option else "none"
            found.problems.append(Problem(
                f"sheet {table.sheet}, row {row}", "one row for each option, alike in id, title and default", wrong,
                "Correct the row.", table.place(row, "option"),
            ))
            continue
        one["options"][option] = entry.get("tasks", [])
    found.tables[name] = list(made.values())


def _spot(table: Table, row: int) -> Spot:
    return Spot(str(table.path), row, table.place(row))


_PUT: Mapping[str, Callable[[OtherTables, str, Table, list[Entry]], None]] = {
    SORTIE: _put_sortie, "suits": _put_suits, "alternatives": _put_alternatives,
}
