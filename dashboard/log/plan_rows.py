"""The tasks of a plan file as rows of texts, for editing, and such rows as tables again.

1. A cell reads and writes as in a task sheet (`dashboard.log.plan_sheet_cells`): lists are separated by spaces, `follows` is
   ``T070+5``, a three-point duration ``30/40/65``. An empty text means that the task does not have the key.
2. The rows of the plan come first, then those of each contingency; the cell `contingency` names it.
3. The rows keep no comments. `dashboard.log.plan_update` keeps those of the file.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from dashboard.core.base.problems import Problem, did_you_mean
from dashboard.core.base.times import parse_minutes
from dashboard.core.plan.fields import Place
from dashboard.core.plan.model import Duration
from dashboard.log.plan_sheet_cells import TIMES, plan_cell, plan_value
from dashboard.log.plan_sheet_columns import COLUMNS, CONTINGENCY

Row = Mapping[str, str]
NAMED_BY_TASKS = ("after", "follows", "obliges", "serves")  # the columns that name other tasks


class CellProblem(NamedTuple):
    """A cell that cannot be read: the number of its row from 0, its column, and what is wrong."""

    row: int
    column: str
    problem: Problem


class RowsRead(NamedTuple):
    """Rows as tables.

    Parameters
    ----------
    tables : dict
        The tables of a plan with the tasks of the rows.
    places : dict
        Place of a task in the tables -> the number of its row, from 0.
    problems : list of CellProblem
        The cells that could not be read; their values are left out.
    """

    tables: dict[str, Any]
    places: dict[Place, int]
    problems: list[CellProblem]


def rows_of(tables: Mapping[str, Any]) -> list[dict[str, str]]:
    """Write the tasks of a plan as rows of texts.

    Parameters
    ----------
    tables
        The tables of a plan file; what is no table of tasks in them is left out.

    Returns
    -------
    list of dict
        Column -> text, for each of `COLUMNS`.
    """
    rows = [_row(task, "") for task in _tables(tables.get("task"))]
    for contingency in _tables(tables.get(CONTINGENCY)):
        rows += [_row(task, str(contingency.get("id", ""))) for task in _tables(contingency.get("task"))]
    return rows


def _row(task: Mapping[str, Any], contingency: str) -> dict[str, str]:
    table = {**task, CONTINGENCY: contingency}
    return {column: str(plan_cell(table.get(column))) for column in COLUMNS}


def tables_of(rows: Sequence[Row], tables: Mapping[str, Any]) -> RowsRead:
    """Read rows as the tasks of a plan.

    Parameters
    ----------
    rows
        Column -> text; a column that is absent is empty.
    tables
        The other tables of the plan file; their tasks are replaced.

    Returns
    -------
    RowsRead
    """
    merged: dict[str, Any] = {**tables, "task": []}
    contingencies = [{key: value for key, value in one.items() if key != "task"} for one in _tables(tables.get(CONTINGENCY))]
    if contingencies:
        merged[CONTINGENCY] = contingencies
    numbers = {str(one.get("id", "")): at for at, one in enumerate(contingencies)}
    known = known_names(rows, tables)
    places: dict[Place, int] = {}
    problems: list[CellProblem] = []
    for number, row in enumerate(rows):
        task = _task(number, row, known, problems)
        name = row.get(CONTINGENCY, "").strip()
        if not name:
            places["task", len(merged["task"])] = number
            merged["task"].append(task)
        elif name in numbers:
            steps = contingencies[numbers[name]].setdefault("task", [])
            places[CONTINGENCY, numbers[name], "task", len(steps)] = number
            steps.append(task)
        else:
            subject = f"task {task.get('id', '')}, column {CONTINGENCY}"
            cure = did_you_mean(name, numbers) if numbers else "Empty the cell, or write [[contingency]] in the plan file first."
            wrong = Problem(subject, "the name of a contingency of the plan file", f"'{name}'", cure)
            problems.append(CellProblem(number, CONTINGENCY, wrong))
    return RowsRead(merged, places, problems)


def _task(number: int, row: Row, known: set[str], problems: list[CellProblem]) -> dict[str, Any]:
    task: dict[str, Any] = {}
    for column in COLUMNS:
        cell = row.get(column, "").strip()
        if column == CONTINGENCY or not cell:
            continue
        try:
            task[column] = plan_value(column, cell, known=known).value
        except ValueError as wrong:
            expected, _, found = str(wrong).rpartition(", not ")
            subject = f"task {row.get('id', '')}, column {column}"
            problems.append(CellProblem(number, column, Problem(subject, expected, found, "Correct the cell.")))
    return task


def known_names(rows: Sequence[Row], tables: Mapping[str, Any]) -> set[str]:
    """The names that the lists of a task may hold: a list is never split inside such a name.

    Parameters
    ----------
    rows
        The tasks.
    tables
        The other tables of the plan file.

    Returns
    -------
    set of str
        Of tasks, lanes and kinds of window.
    """
    others = [*_tables(tables.get("lane")), *_tables(tables.get("window"))]
    names = {name for one in others for name in (one.get("id"), one.get("kind")) if isinstance(name, str)}
    return names | {row.get("id", "").strip() for row in rows}


def without_rows(rows: Sequence[Row], gone: set[int]) -> list[Row]:
    """The rows without some of them, and without the links to the tasks of these rows.

    Parameters
    ----------
    rows
        The tasks.
    gone
        Numbers of the rows that go, from 0.

    Returns
    -------
    list of mapping
        The rows that stay, in order.
    """
    kept = [row for at, row in enumerate(rows) if at not in gone]
    names = {row.get("id", "").strip() for at, row in enumerate(rows) if at in gone}
    names -= {row.get("id", "").strip() for row in kept}

    def stays(link: str) -> bool:
        return link not in names and link.rpartition("+")[0] not in names

    return [
        {**row, **{column: " ".join(filter(stays, row.get(column, "").split())) for column in NAMED_BY_TASKS}} for row in kept
    ]


def cell_value(column: str, cell: str, known: set[str]) -> Any:
    """The value of a cell, for comparing two cells.

    Parameters
    ----------
    column
        One of `COLUMNS`.
    cell
        Its text.
    known
        From `known_names`.

    Returns
    -------
    Any
        Equal for two texts that mean the same; the text itself when it cannot be read.
    """
    cell = cell.strip()
    if not cell or column == CONTINGENCY:
        return cell
    try:
        value = plan_value(column, cell, known=known).value
        if column == "duration":
            return Duration.model_validate(value)
        return parse_minutes(value) if column in TIMES else str(value)
    except ValueError:
        return cell


def _tables(value: Any) -> list[Mapping[str, Any]]:
    return [one for one in value if isinstance(one, Mapping)] if isinstance(value, list) else []
