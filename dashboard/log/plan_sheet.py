"""Reads task sheets: the tasks of a plan as CSV or XLSX, one row per task, with the keys of ``[[task]]`` as column names.

`dashboard.log.plan_sheet_cells` defines what the cells mean. A further column `contingency` names the contingency that a row
belongs to. A joint task may have one row for all its lanes, or one row per lane; all rows of one task must agree otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from dashboard.core.base.problems import InputError, Problem, did_you_mean
from dashboard.core.plan.fields import Place
from dashboard.core.plan.model import Task
from dashboard.log.limits import PLAN_SHEET
from dashboard.log.plan_sheet_cells import plan_value
from dashboard.log.rows import Row, is_filled
from dashboard.log.table import Table, read_table

CONTINGENCY = "contingency"
COLUMNS = (*Task.model_fields, CONTINGENCY)
SHEET_NAME = "tasks"


class Spot(NamedTuple):
    """Where something stands: the file, its line or row (for sorting), and the address in words."""

    file: str
    line: int
    text: str


@dataclass
class PlanSheet:
    """The content of a sheet: its tasks as tables (which may have a key `contingency`), and the row that each came from."""

    table: Table
    columns: list[str]
    tasks: list[dict[str, Any]] = field(default_factory=list)
    rows: list[int] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    def spot(self, index: int, key: str | None = None) -> Spot:
        """Find where a task stands.

        Parameters
        ----------
        index
            Place of the task in `tasks`, from 0.
        key
            A key of it; None: the task as a whole.

        Returns
        -------
        Spot
            Its first row.
        """
        row = self.rows[index]
        return Spot(str(self.table.path), row, self.place(row, key))

    def place(self, row: int, key: str | None = None) -> str:
        """Give the address of a row or a cell.

        Parameters
        ----------
        row
            Number of the row.
        key
            A key of the task; None, or a key without a column, gives the address of the row.

        Returns
        -------
        str
            The address in words.
        """
        return self.table.place(row, key if key is not None and key in self.columns else "")

    def into(self, tables: Mapping[str, Any]) -> tuple[dict[str, Any], dict[Place, int]]:
        """Put the tasks of this sheet into the tables of a plan.

        The tasks of contingencies are replaced only when the sheet has a column `contingency`. A row that names an unknown
        contingency adds to `problems`.

        Parameters
        ----------
        tables
            The tables of the plan file; they are not changed.

        Returns
        -------
        dict
            The tables with the tasks of this sheet.
        dict
            For the place of each task in them, its index in `tasks`.
        """
        merged = {**tables, "task": []}
        places: dict[Place, int] = {}
        contingencies = [dict(c) if isinstance(c, Mapping) else c for c in _list(tables.get(CONTINGENCY))]
        if CONTINGENCY in self.columns:
            for contingency in contingencies:
                if isinstance(contingency, dict):
                    contingency.pop("task", None)
        if contingencies:
            merged[CONTINGENCY] = contingencies
        names = {c.get("id"): at for at, c in enumerate(contingencies) if isinstance(c, dict)}
        for index, task in enumerate(self.tasks):
            name = task.get(CONTINGENCY)
            own = {key: value for key, value in task.items() if key != CONTINGENCY}
            if name is None:
                places["task", len(merged["task"])] = index
                merged["task"].append(own)
            elif name in names:
                steps = contingencies[names[name]].setdefault("task", [])
                places[CONTINGENCY, names[name], "task", len(steps)] = index
                steps.append(own)
            else:
                self.problems.append(Problem(
                    f"task {task.get('id', '')}, column {CONTINGENCY}", "the name of a contingency of the plan file",
                    f"'{name}'", did_you_mean(name, [n for n in names if isinstance(n, str)]),
                    self.spot(index, CONTINGENCY).text,
                ))
        return merged, places


def read_plan_sheet(path: Path) -> PlanSheet:
    """Read a task sheet. Its problems are kept beside what could be read.

    Parameters
    ----------
    path
        The sheet, CSV or XLSX.

    Returns
    -------
    PlanSheet
        With every problem found in its cells.

    Raises
    ------
    InputError
        When the file cannot be a task sheet at all.
    """
    table = read_table(path, PLAN_SHEET, SHEET_NAME)
    sheet = PlanSheet(table, [name.lower().replace(" ", "_") for name in table.columns])
    sheet.problems += _wrong_columns(sheet)
    if "id" not in sheet.columns:
        raise InputError([*sheet.problems, Problem(
            f"file {path.name}", f"a first row with the column names of tasks: {', '.join(COLUMNS[:6])}, ...",
            "none named 'id'", "Write the column names in the first row.", str(path),
        )])
    for row in table.rows:
        _read_row(sheet, row)
    return sheet


def _wrong_columns(sheet: PlanSheet) -> list[Problem]:
    problems = []
    for at, name in enumerate(sheet.columns):
        where = sheet.place(sheet.table.header_row, name)
        if name and name not in COLUMNS:
            problems.append(Problem(
                f"column '{name}'", "a key of [[task]], or 'contingency'", f"'{name}'",
                did_you_mean(name, COLUMNS), where,
            ))
        elif name and name in sheet.columns[:at]:
            problems.append(Problem(
                f"column '{name}'", "each column once", "it a second time", "Remove one of the two.", where
            ))
    return problems


def _read_row(sheet: PlanSheet, row: Row) -> None:
    task: dict[str, Any] = {}
    for at, cell in enumerate(row.cells):
        if not is_filled(cell):
            continue
        name = sheet.columns[at] if at < len(sheet.columns) else ""
        if not name:
            letter = sheet.table.column_name(at)
            sheet.problems.append(Problem(
                f"row {row.number}", "cells only under column names", f"'{cell}' in column {letter}",
                "Name the column, or empty the cell.", sheet.table.place(row.number, letter),
            ))
        elif name in COLUMNS:
            try:
                task[name] = plan_value(name, cell)
            except ValueError as wrong:
                sheet.problems.append(Problem(
                    f"row {row.number}, column {name}", *_expected_and_found(wrong), "Correct the cell.",
                    sheet.place(row.number, name),
                ))
    twin = next((i for i, other in enumerate(sheet.tasks) if "id" in task and other.get("id") == task["id"]), None)
    if twin is None or not _other_lanes(sheet.tasks[twin], task):
        sheet.tasks.append(task)
        sheet.rows.append(row.number)
    else:
        _join(sheet, twin, row.number, task)


def _expected_and_found(wrong: ValueError) -> tuple[str, str]:
    expected, _, found = str(wrong).rpartition(", not ")
    return (expected, found) if expected else (found, "something else")


def _other_lanes(first: Mapping[str, Any], second: Mapping[str, Any]) -> bool:
    lanes, more = first.get("lanes"), second.get("lanes")
    return bool(lanes and more) and not set(lanes or ()) & set(more or ())


def _join(sheet: PlanSheet, twin: int, number: int, task: dict[str, Any]) -> None:
    """Add the lanes of one more row of a joint task. Everything else must agree with the first row."""
    first = sheet.tasks[twin]
    for key in COLUMNS:
        if key not in ("lanes", "id") and first.get(key) != task.get(key):
            one, other = (_shown(value.get(key)) for value in (first, task))
            sheet.problems.append(Problem(
                f"joint task {task['id']}, column {key}", f"the same '{key}' in the rows of all its lanes",
                f"{one} in row {sheet.rows[twin]} ({' '.join(first['lanes'])}) and {other} in row {number} "
                f"({' '.join(task['lanes'])})",
                "Make them the same, or give the tasks different names.",
                sheet.place(number, key),
            ))
    first["lanes"] = [*first["lanes"], *task["lanes"]]


def _shown(value: Any) -> str:
    return "none" if value is None else f"'{value}'" if isinstance(value, str) else str(value)


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []
