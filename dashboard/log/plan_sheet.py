"""Reads task sheets: the tasks of a plan as CSV or XLSX, one row per task, with the keys of ``[[task]]`` as column names.

1. `dashboard.log.plan_sheet_columns` tells what a column is, `dashboard.log.plan_sheet_cells` what a cell means. Whatever is not
   read as the plan file would have it is listed in `PlanSheet.taken`.
2. A further column `contingency` names the contingency that a row belongs to.
3. A joint task may have one row for all its lanes, or one row per lane; all rows of one task must agree otherwise. A row whose
   name and lanes come from merged cells goes on with the task above.
4. A row with one filled cell that is no name is a heading inside the sheet. It is listed in `PlanSheet.not_taken`.
5. Instead of a column with the lanes a sheet may have one column per lane, with a mark in the rows of its tasks.
6. A sheet without a column for the ids gets ids in steps of ten. Cells of further columns go into the notes of the task.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from dashboard.core.base.minutes import clock
from dashboard.core.base.problems import InputError, Problem, did_you_mean
from dashboard.core.base.times import parse_minutes
from dashboard.core.plan.fields import Place
from dashboard.log.limits import PLAN_SHEET
from dashboard.log.plan_sheet_cells import TIMES, YES_NO_WORDS, plan_value
from dashboard.log.plan_sheet_columns import (
    COLUMNS,
    CONTINGENCY,
    END,
    HIGH,
    LIKELY,
    LOW,
    MARK,
    TASK,
    Column,
    columns_of_tasks,
    fits_tasks,
)
from dashboard.log.plan_sheet_headings import with_rows_below
from dashboard.log.plan_sheet_lanes import fault_of_lanes, with_lanes
from dashboard.log.rows import Row, cell_text, is_filled
from dashboard.log.table import Table, best_table, read_table
from dashboard.log.xlsx_rows import Merged, Sheet

SHEET_NAME = "tasks"
_SPREADSHEET_ERROR = re.compile(r"^#(?:N/A|REF!|VALUE!|DIV/0!|NAME\?|NUM!|NULL!)$")
_OF_THE_CLOCK = ("start", END, "not_before")
_POINT_FOR_COLON = re.compile(r"^(\d{1,2})\.([0-5]\d)$")
SAME_MIN = 0.51  # an end and a duration that are rounded to minutes agree within this


class Spot(NamedTuple):
    """Where something stands: the file, its line or row (for sorting), and the address in words."""

    file: str
    line: int
    text: str


class TakenCell(NamedTuple):
    """A cell that was not read as it stands: its row and column, its text, what was taken, and how."""

    row: int
    column: str
    found: str
    taken: Any
    how: str


class NotTakenRow(NamedTuple):
    """A row that is no task: its number, its text, and the reason."""

    row: int
    text: str
    why: str


@dataclass(frozen=True)
class HowToRead:
    """What a person says of a task sheet.

    Parameters
    ----------
    columns
        Name of the column in the sheet, by key of the task.
    leave_out
        Names or letters of columns whose cells are not wanted.
    sheet
        Name of the sheet of a workbook; empty: the sheet `tasks`, or the one whose headings fit best.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    leave_out: Sequence[str] = ()
    sheet: str = ""


@dataclass
class PlanSheet:
    """The content of a sheet: its tasks as tables (which may have a key `contingency`), and the row that each came from.

    Parameters
    ----------
    table
        The sheet as it was read.
    columns
        What each of its columns holds.
    tasks, rows
        The tasks, and the number of the first row of each.
    problems
        What is wrong with its cells. A sheet with a problem is not to be used.
    taken
        The cells that were not read as they stand.
    not_taken
        The rows that are no tasks.
    remarks
        What else was assumed, in sentences.
    """

    table: Table
    columns: list[Column]
    tasks: list[dict[str, Any]] = field(default_factory=list)
    rows: list[int] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    taken: list[TakenCell] = field(default_factory=list)
    not_taken: list[NotTakenRow] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)

    @property
    def keys(self) -> dict[str, str]:
        """The name of its column in the sheet, by key."""
        return {one.key: one.heading for one in self.columns if one.key and one.key != MARK and one.wanted}

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
        return self.table.place(row, self.keys.get(key or "", ""))

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
        contingencies = [dict(c) if isinstance(c, Mapping) else c for c in _items(tables.get(CONTINGENCY))]
        if CONTINGENCY in self.keys:
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


def read_plan_sheet(
    path: Path, how: HowToRead | None = None, known: Collection[str] = (), sheets: list[Sheet] | None = None
) -> PlanSheet:
    """Read a task sheet. Its problems are kept beside what could be read.

    Parameters
    ----------
    path
        The sheet, CSV or XLSX.
    how
        What a person says of the sheet; None: nothing.
    known
        Names of the other tables of the plan, such as its lanes. A list is never split inside such a name.
    sheets
        The sheets of the workbook if they have been read already; None: the file is read.

    Returns
    -------
    PlanSheet
        With every problem found in its cells.

    Raises
    ------
    InputError
        When the file cannot be a task sheet at all.
    """
    how = how or HowToRead()
    told = {*how.columns.values()}

    def fits(names: Sequence[str]) -> int:
        return (fits_tasks(names) or len(told)) + len(told) if told and told <= {*names} else fits_tasks(names)

    wanted = how.sheet or SHEET_NAME
    if sheets is None:
        table = read_table(path, PLAN_SHEET, wanted, fits=fits)
    else:
        table = best_table(path, PLAN_SHEET, sheets, wanted, fits)
    if how.sheet and how.sheet != table.sheet:
        raise InputError([Problem(
            "option --sheet", "a sheet of the workbook", f"'{how.sheet}'", f"The sheet that fits best: '{table.sheet}'.",
            str(path),
        )])
    return sheet_of(table, how, known)


def sheet_of(table: Table, how: HowToRead, known: Collection[str] = ()) -> PlanSheet:
    """Read a table as a task sheet.

    Parameters
    ----------
    table
        The rows with their headings.
    how
        What a person says of the sheet.
    known
        Names of the other tables of the plan.

    Returns
    -------
    PlanSheet
        With every problem found in its cells.

    Raises
    ------
    InputError
        When no column holds the ids or titles of tasks, or the row below the headings may be a part of them.
    """
    table = with_rows_below(table)
    width = max([len(table.columns), *(len(row.cells) for row in table.rows)])
    names = [table.columns[at] if at < len(table.columns) else "" for at in range(width)]
    letters = [table.column_name(at) for at in range(width)]
    columns, problems = columns_of_tasks(names, letters, how.columns, how.leave_out, table.place(table.header_row))
    columns = with_lanes(_task_columns(columns, table.rows), table.rows, known)
    sheet = PlanSheet(table, columns, problems=problems)
    if not sheet.keys.keys() & {"id", "title"}:
        raise InputError([*sheet.problems, Problem(
            f"file {table.path.name}", f"a first row with the column names of tasks: {', '.join(COLUMNS[:6])}, ...",
            f"none named 'id' or 'title' ({', '.join(filter(None, table.columns[:6]))})",
            "Write the column names in the first row, or name the column: --columns id=...", str(table.path),
        )])
    _Reader(sheet, known).read()
    return sheet


def _task_columns(columns: list[Column], rows: Sequence[Row]) -> list[Column]:
    """The columns, of which one named `task` holds ids where every cell below it is one word, else titles."""
    keys = {one.key for one in columns if one.wanted}
    made = []
    for at, one in enumerate(columns):
        if one.key == TASK:
            cells = [cell_text(row.cells[at]) for row in rows if at < len(row.cells) and is_filled(row.cells[at])]
            several = len([row for row in rows if sum(map(is_filled, row.cells)) > 1])
            one_word = sum(not any(letter.isspace() for letter in cell) for cell in cells)
            key = "id" if "id" not in keys and one_word >= several else "title"
            one = one._replace(key="" if key in keys else key)
        made.append(one)
    return made


class _Reader:
    """Reads the rows of one sheet."""

    def __init__(self, sheet: PlanSheet, known: Collection[str]) -> None:
        self.sheet, self.table = sheet, sheet.table
        at = next((at for at, one in enumerate(sheet.columns) if one.key == "id" and one.wanted), None)
        self.known = {*known}
        self.id_column = at
        if at is not None:
            self.known |= {cell_text(row.cells[at]) for row in self.table.rows if at < len(row.cells)}
        self.own = [one.heading for one in sheet.columns] == [*COLUMNS]  # such a sheet was written by the program
        self.places: dict[str, int] = {}
        self.by_merging = {
            (number, one.first_column) for one in self.table.merged if one.first_column == one.last_column
            for number in range(one.first_row + 1, one.last_row + 1)
        }
        self.wide: dict[int, list[Merged]] = {}
        for one in self.table.merged:
            if one.first_column != one.last_column:
                self.wide.setdefault(one.first_row, []).append(one)
        self.plain_durations: list[float] = []

    def read(self) -> None:
        sheet, table = self.sheet, self.table
        sheet.not_taken += [NotTakenRow(row.number, _text(row), "above the headings") for row in table.above]
        if len(sheet.columns) and self.id_column is None:
            sheet.remarks.append("No column holds ids: the tasks are numbered T010, T020, ... in the order of the rows.")
        for row in table.rows:
            if (why := self._no_task(row)) is not None:
                sheet.not_taken.append(NotTakenRow(row.number, _text(row), why))
            else:
                self._row(row)
        if self.plain_durations and max(self.plain_durations) < 1 and not self.own:
            heading = sheet.keys["duration"]
            sheet.problems.append(Problem(
                f"column '{heading}'", "minutes", f"only numbers below 1, up to {max(self.plain_durations):.4g}",
                "Show the cells as times (h:mm), or write minutes; for hours name the column 'Duration (h)'.",
                sheet.place(table.header_row, "duration"),
            ))
        for one in table.merged:
            if one.first_column == one.last_column and is_filled(self._cell(one.first_row, one.first_column)):
                sheet.remarks.append(
                    f"Rows {one.first_row} to {one.last_row} are merged in column {sheet.columns[one.first_column].heading}: "
                    "each of them has the value."
                )

    def _cell(self, number: int, at: int) -> Any:
        row = next((row for row in self.table.rows if row.number == number), None)
        return row.cells[at] if row is not None and at < len(row.cells) else None

    def _no_task(self, row: Row) -> str | None:
        """Why a row is no task; None when it is to be read as one."""
        texts = [cell_text(cell) for cell in row.cells]
        names = self.table.columns
        if len(texts) > 1 and texts == [*names[: len(texts)]]:
            return "the headings once more"
        filled = [at for at, cell in enumerate(row.cells) if is_filled(cell)]
        if len(filled) != 1 or not isinstance(row.cells[filled[0]], str):
            return None
        in_id = filled[0] == self.id_column and len(texts[filled[0]].split()) == 1
        return None if in_id and row.number not in self.wide else "one filled cell, so it is a heading or a remark"

    def _row(self, row: Row) -> None:
        sheet = self.sheet
        task: dict[str, Any] = {}
        further: list[str] = []
        for at, cell in enumerate(row.cells):
            column = sheet.columns[at]
            if not is_filled(cell) or not column.wanted:
                continue
            if not column.named and not column.key:
                sheet.problems.append(Problem(
                    f"row {row.number}", "cells only under column names", f"'{cell}' in column {column.heading}",
                    f"Name the column, empty the cell, or leave the column out: --leave-out {column.heading}.",
                    self.table.place(row.number, column.heading),
                ))
            elif column.key == MARK:
                if YES_NO_WORDS[cell_text(cell).casefold()]:
                    task.setdefault("lanes", []).append(column.lane)
            elif column.key:
                self._value(task, row.number, column, cell)
            elif (row.number, at) not in self.by_merging:
                further.append(f"{column.heading}: {cell_text(cell)}")
        self._wide_cells(row)
        self._duration(task, row.number)
        if further:
            task["notes"] = "; ".join([*([task["notes"]] if "notes" in task else []), *further])
        self._keep(row, task)

    def _value(self, task: dict[str, Any], number: int, column: Column, cell: Any) -> None:
        key = column.key
        if isinstance(cell, str) and not self.own and (fault := _half_read(key, cell.strip(), column.in_hours)):
            self._wrong(number, key, *fault)
            return
        try:
            value, how = plan_value(key, cell, column.in_hours and (key in TIMES or key == "duration"), self.known)
        except ValueError as wrong:
            self.sheet.problems.append(Problem(
                f"row {number}, column {column.heading}", *_expected_and_found(wrong), "Correct the cell.",
                self.table.place(number, column.heading),
            ))
            return
        are_several = bool(how) or column.heading == key  # below the key of the plan file spaces separate any names
        if key == "lanes" and not self.own and (fault := fault_of_lanes(cell_text(cell), value, are_several, self.known)):
            self._wrong(number, key, *fault)
            return
        task[key] = value
        if how:
            self.sheet.taken.append(TakenCell(number, column.heading, cell_text(cell), value, how))
        elif key == "duration" and isinstance(value, int | float) and not isinstance(value, bool) and value > 0:
            self.plain_durations.append(float(value))

    def _wide_cells(self, row: Row) -> None:
        """Refuse cells that are merged over several columns with keys: nothing tells which of them the value belongs to."""
        for wide in self.wide.get(row.number, ()):
            covered = self.sheet.columns[wide.first_column : wide.last_column + 1]
            headings = [one.heading for one in covered if one.key and one.wanted]
            if len(headings) < 2:
                continue
            self.sheet.problems.append(Problem(
                f"row {row.number}", "cells that are not merged over several columns",
                f"one cell for the columns {' and '.join(headings)}", "Take the merging back, and fill each cell.",
                self.table.place(row.number, headings[0]),
            ))

    def _duration(self, task: dict[str, Any], number: int) -> None:
        """Make the duration of the columns that no task has: its end, or its three points one by one."""
        points = {key: task.pop(key) for key in (LOW, LIKELY, HIGH) if key in task}
        if points and LIKELY not in points and "duration" in task and not isinstance(task["duration"], list):
            points[LIKELY] = task["duration"]
        if points:
            if len(points) == 3:
                task["duration"] = [points[key] for key in (LOW, LIKELY, HIGH)]
            else:
                self._wrong(number, "duration", "low, likely and high", " and ".join(points), "Fill all three cells.")
        if END not in task:
            return
        end, either = task.pop(END), "Correct one of them."
        try:
            start = parse_minutes(task["start"])
            length = parse_minutes(end) - start
            if "duration" in task:
                given = task["duration"]
                likely = parse_minutes(given[1] if isinstance(given, list) and len(given) == 3 else given)
                if abs(likely - length) > SAME_MIN:
                    found = f"an end at {clock(start + length)} and a duration of {likely:g} min"
                    self._wrong(number, END, f"an end at start and duration ({clock(start + likely)})", found, either)
            elif length < 0:
                self._wrong(number, END, f"an end after the start ({clock(start)})", clock(start + length), either)
            else:
                task["duration"] = length
                heading = self.sheet.keys[END]
                self.sheet.taken.append(TakenCell(number, heading, str(end), length, "the duration, from start to end"))
        except KeyError:
            if "duration" not in task:
                self._wrong(number, END, "a start with the end, or a duration", "an end alone", "Fill the cell of the start.")
        except ValueError as wrong:
            self._wrong(number, END, *_expected_and_found(wrong), "Correct the cell.")

    def _wrong(self, number: int, key: str, expected: str, found: str, cure: str) -> None:
        heading = self.sheet.keys.get(key, key)
        self.sheet.problems.append(
            Problem(f"row {number}, column {heading}", expected, found, cure, self.sheet.place(number, key))
        )

    def _keep(self, row: Row, task: dict[str, Any]) -> None:
        """Add a task; or, for a further row of a task that is there already, its lanes or its notes to that one."""
        sheet = self.sheet
        if self.id_column is None:
            task = {"id": f"T{(len(sheet.tasks) + 1) * 10:03d}", **task}
        name = task.get("id")
        twin = self.places.get(name) if isinstance(name, str) else None
        if twin is not None and _other_lanes(sheet.tasks[twin], task):
            self._join(twin, row.number, task)
            return
        if twin is not None and (row.number, self.id_column) in self.by_merging:
            self._go_on(twin, row, task)
            return
        if isinstance(name, str):
            self.places.setdefault(name, len(sheet.tasks))
        sheet.tasks.append(task)
        sheet.rows.append(row.number)

    def _join(self, twin: int, number: int, task: dict[str, Any]) -> None:
        """Add the lanes of one more row of a joint task. Everything else must agree with the first row."""
        sheet, first = self.sheet, self.sheet.tasks[twin]
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

    def _go_on(self, twin: int, row: Row, task: dict[str, Any]) -> None:
        """Add a row that goes on with the task above: its name comes from merged cells. Its notes are added."""
        first = self.sheet.tasks[twin]
        for key, value in task.items():
            if key in ("notes", "title") and value != first.get(key):
                first[key] = "; ".join(part for part in (first.get(key), value) if part)
            elif first.setdefault(key, value) != value:
                self._wrong(row.number, key, f"what the task has in row {self.sheet.rows[twin]} ({_shown(first[key])})",
                            _shown(value), "Write one value, or give the row an id of its own.")


def _half_read(key: str, text: str, in_hours: bool) -> tuple[str, str, str] | None:
    """What is expected, found, and the cure, for a text that would be taken for something else; None: it is read as it stands."""
    if _SPREADSHEET_ERROR.match(text):
        return "a value", f"an error of the spreadsheet ({text})", "Correct the formula, or write the value."
    if key in _OF_THE_CLOCK and not in_hours and (found := _POINT_FOR_COLON.match(text)):
        hours, minutes = found.groups()
        return 'minutes or "H:MM"', f"'{text}', which may be either", f"Write {hours}:{minutes}, or {float(text):g} min."
    return None


def _text(row: Row) -> str:
    return " | ".join(words for cell in row.cells if (words := cell_text(cell)))


def _expected_and_found(wrong: ValueError) -> tuple[str, str]:
    expected, _, found = str(wrong).rpartition(", not ")
    return (expected, found) if expected else (found, "something else")


def _other_lanes(first: Mapping[str, Any], second: Mapping[str, Any]) -> bool:
    lanes, more = first.get("lanes"), second.get("lanes")
    return bool(lanes and more) and not set(lanes or ()) & set(more or ())


def _shown(value: Any) -> str:
    return "none" if value is None else f"'{value}'" if isinstance(value, str) else str(value)


def _items(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []
