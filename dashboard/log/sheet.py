"""Task sheets: the tasks of a plan as CSV or XLSX, one row a task, column names as the keys of ``[[task]]``.

Lists are separated by spaces, `follows` is written ``T070+5`` (lag in minutes), a three-point duration
``30/40/65``. A further column `contingency` names the contingency that a row belongs to. A joint task may have
one row for all its lanes or one row a lane; rows of one task must agree in everything else.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any, NamedTuple

import openpyxl  # type: ignore[import-untyped]

from dashboard.core.base.problems import InputError, Problem, did_you_mean
from dashboard.core.base.times import parse_minutes
from dashboard.core.plan.fields import Place
from dashboard.core.plan.model import Plan, Task
from dashboard.log.plantext import task_table
from dashboard.log.textfile import read_file, read_text, refusal

SHEET_SUFFIXES = (".csv", ".xlsx")
LARGEST_MB = 5.0
MOST_ROWS = 20_000
CONTINGENCY = "contingency"
COLUMNS = (*Task.model_fields, CONTINGENCY)
LISTS = ("lanes", "after", "obliges", "serves", "can_move_to", "needs")
TEXTS = ("id", "title", "worksite", "activity", CONTINGENCY)
TIMES = ("start", "shortest", "closeout", "not_before")
YES_NO = ("required", "get_ahead", "boxed")
WORDS = {"x": True, "yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}
DELIMITERS = ",;\t"
SPREADSHEET_DAY_ZERO = datetime(1899, 12, 31)  # 24:00 shown as a date is the first of January 1900


class Spot(NamedTuple):
    """Where something stands: file, line or row for sorting, and the address in words."""

    file: str
    line: int
    text: str


@dataclass
class Sheet:
    """What a sheet holds: tasks as tables (with `contingency` among the keys), and the row each came from."""

    path: Path
    tasks: list[dict[str, Any]] = field(default_factory=list)
    rows: list[int] = field(default_factory=list)
    columns: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    def spot(self, index: int, key: str | None = None) -> Spot:
        """The address of a task, or of one of its keys."""
        row = self.rows[index]
        column = f", column {key}" if key in self.columns else ""
        return Spot(str(self.path), row, f"{self.path}: row {row}{column}")

    def into(self, tables: Mapping[str, Any]) -> tuple[dict[str, Any], dict[Place, int]]:
        """The plan's tables with the tasks of this sheet, and which row stands at which place.

        Tasks of contingencies are replaced only when the sheet has a column `contingency`.
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
            plain = {key: value for key, value in task.items() if key != CONTINGENCY}
            if name is None:
                places["task", len(merged["task"])] = index
                merged["task"].append(plain)
            elif name in names:
                steps = contingencies[names[name]].setdefault("task", [])
                places[CONTINGENCY, names[name], "task", len(steps)] = index
                steps.append(plain)
            else:
                self.problems.append(Problem(
                    f"task {task.get('id', '')}, column {CONTINGENCY}", "the name of a contingency of the plan file",
                    f"'{name}'", did_you_mean(name, [n for n in names if isinstance(n, str)]),
                    self.spot(index, CONTINGENCY).text,
                ))
        return merged, places


def read_sheet(path: Path) -> Sheet:
    """Read a sheet, keeping its problems beside what could be read.

    Raises
    ------
    InputError
        When the file cannot be a sheet at all.
    """
    rows = _xlsx_rows(path) if path.suffix.lower() == ".xlsx" else _csv_rows(path)
    sheet = Sheet(path)
    header = next(((number, cells) for number, cells in rows if any(_filled(cell) for cell in cells)), None)
    if header is None:
        raise refusal(path, "a task sheet", "no row", f"Write the column names first: {', '.join(COLUMNS[:6])}, ...")
    sheet.columns = _columns(sheet, *header)
    if "id" not in sheet.columns:
        raise InputError([*sheet.problems, Problem(
            f"file {path.name}", f"a first row with the column names of tasks: {', '.join(COLUMNS[:6])}, ...",
            "no column 'id'", "Write the column names in the first row.", str(path),
        )])
    for number, cells in rows:
        if number > header[0] and any(_filled(cell) for cell in cells):
            _read_row(sheet, number, cells)
    return sheet


def _columns(sheet: Sheet, number: int, cells: list[Any]) -> list[str]:
    columns = [str(cell).strip().lower().replace(" ", "_") if _filled(cell) else "" for cell in cells]
    for at, name in enumerate(columns):
        where = f"{sheet.path}: row {number}, column {name}"
        if name and name not in COLUMNS:
            sheet.problems.append(Problem(
                f"column '{name}'", "a key of [[task]], or 'contingency'", f"'{name}'",
                did_you_mean(name, COLUMNS), where,
            ))
        elif name and name in columns[:at]:
            sheet.problems.append(Problem(
                f"column '{name}'", "each column once", "a second time", "Take one of the two out.", where
            ))
    return columns


def _read_row(sheet: Sheet, number: int, cells: list[Any]) -> None:
    task: dict[str, Any] = {}
    for at, cell in enumerate(cells):
        if not _filled(cell):
            continue
        name = sheet.columns[at] if at < len(sheet.columns) else ""
        if not name:
            sheet.problems.append(Problem(
                f"row {number}", "cells only under column names", f"'{cell}' in column {at + 1}",
                "Name the column, or take the cell out.", f"{sheet.path}: row {number}, column {at + 1}",
            ))
        elif name in COLUMNS:
            try:
                task[name] = _value(name, cell)
            except ValueError as wrong:
                sheet.problems.append(Problem(
                    f"row {number}, column {name}", *_halves(wrong), "Correct the cell.",
                    f"{sheet.path}: row {number}, column {name}",
                ))
    twin = next((i for i, other in enumerate(sheet.tasks) if "id" in task and other.get("id") == task["id"]), None)
    if twin is None or not _other_lanes(sheet.tasks[twin], task):
        sheet.tasks.append(task)
        sheet.rows.append(number)
    else:
        _join(sheet, twin, number, task)


def _halves(wrong: ValueError) -> tuple[str, str]:
    expected, _, found = str(wrong).rpartition(", not ")
    return (expected, found) if expected else (found, "something else")


def _other_lanes(first: Mapping[str, Any], second: Mapping[str, Any]) -> bool:
    lanes, more = first.get("lanes"), second.get("lanes")
    return bool(lanes and more) and not set(lanes or ()) & set(more or ())


def _join(sheet: Sheet, twin: int, number: int, task: dict[str, Any]) -> None:
    """One more row of a joint task: its lanes are added; everything else must agree with the first row."""
    first = sheet.tasks[twin]
    for key in COLUMNS:
        if key not in ("lanes", "id") and first.get(key) != task.get(key):
            one, other = (_shown(value.get(key)) for value in (first, task))
            sheet.problems.append(Problem(
                f"joint task {task['id']}, column {key}", f"the same '{key}' in the row of every lane",
                f"{one} in row {sheet.rows[twin]} ({' '.join(first['lanes'])}) and {other} in row {number} "
                f"({' '.join(task['lanes'])})",
                "Make them the same, or give the tasks different names.",
                f"{sheet.path}: row {number}" + (f", column {key}" if key in sheet.columns else ""),
            ))
    first["lanes"] = [*first["lanes"], *task["lanes"]]


def _shown(value: Any) -> str:
    return "none" if value is None else f"'{value}'" if isinstance(value, str) else str(value)


def _filled(cell: Any) -> bool:
    return cell is not None and str(cell).strip() != ""


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


# --- cells ----------------------------------------------------------------------------------------


def _value(name: str, cell: Any) -> Any:
    """The value of a cell as the plan file would have it.

    Raises
    ------
    ValueError
        ``<expected>, not <found>``.
    """
    if isinstance(cell, datetime | date) and name not in TIMES:
        raise ValueError(f"{_example(name)}, not a date ({cell:%Y-%m-%d}) that the spreadsheet made of it")
    if isinstance(cell, str):
        cell = cell.strip()
    if name in LISTS:
        return _text(cell).split()
    if name in TEXTS:
        return _text(cell)
    if name == "follows":
        return [_follow(part) for part in _text(cell).split()]
    if name == "duration":
        return _duration(cell)
    if name in TIMES:
        return _minutes(cell)
    if name in YES_NO:
        return WORDS.get(_text(cell).lower(), cell)
    return _number(cell)


def _example(name: str) -> str:
    return "a duration such as 40 or 30 40 65" if name == "duration" else f"a value for '{name}'"


def _text(cell: Any) -> str:
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return str(cell)


def _number(cell: Any) -> Any:
    try:
        return float(cell) if isinstance(cell, str) else cell
    except ValueError:
        return cell


def _minutes(cell: Any) -> Any:
    """Minutes of a cell; a spreadsheet keeps ``1:50`` as a time of day."""
    if isinstance(cell, datetime):
        if cell.year > 1900:
            raise ValueError(f'minutes or "H:MM", not a date ({cell:%Y-%m-%d})')
        return (cell - SPREADSHEET_DAY_ZERO).total_seconds() / 60
    if isinstance(cell, time):
        return cell.hour * 60 + cell.minute + cell.second / 60
    if isinstance(cell, timedelta):
        return cell.total_seconds() / 60
    return _number(cell)


def _duration(cell: Any) -> Any:
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


# --- files in -------------------------------------------------------------------------------------


def _csv_rows(path: Path) -> list[tuple[int, list[Any]]]:
    text = read_text(path, "a task sheet (CSV)", LARGEST_MB)
    first = text.lstrip().split("\n", 1)[0]
    delimiter = max(DELIMITERS, key=first.count)
    try:
        return list(enumerate(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True), start=1))
    except csv.Error as wrong:
        raise refusal(path, "a task sheet (CSV)", f"text that is not CSV ({wrong})",
                      "Check the quotes, or save the sheet again as CSV.") from None


def _xlsx_rows(path: Path) -> list[tuple[int, list[Any]]]:
    what = "a task sheet (XLSX)"
    data = read_file(path, what, LARGEST_MB)
    if not data.startswith(b"PK"):
        raise refusal(path, what, "a file of another kind", "Save the sheet as XLSX or CSV.")
    try:
        rows = _cells(data, formulas=True)
        if any(isinstance(cell, str) and cell.startswith("=") for _, cells in rows for cell in cells):
            rows = _computed(path, rows, _cells(data, formulas=False))
    except InputError:
        raise
    except Exception as wrong:  # noqa: BLE001 - openpyxl raises whatever its parts raise
        raise refusal(path, what, f"a damaged file ({type(wrong).__name__})", "Save the sheet again.") from None
    if len(rows) >= MOST_ROWS:
        raise refusal(path, f"{what} of fewer than {MOST_ROWS} rows", "more", "Take the other rows out.")
    return rows


def _cells(data: bytes, formulas: bool) -> list[tuple[int, list[Any]]]:
    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=not formulas)
    try:
        page = book["tasks"] if "tasks" in book.sheetnames else book.worksheets[0]
        rows = page.iter_rows(values_only=True, max_row=MOST_ROWS)
        return [(number, list(cells)) for number, cells in enumerate(rows, start=1)]
    finally:
        book.close()


def _computed(
    path: Path, formulas: list[tuple[int, list[Any]]], values: list[tuple[int, list[Any]]]
) -> list[tuple[int, list[Any]]]:
    """The values of the formulas, refusing those that the spreadsheet never computed."""
    problems = [
        Problem(f"row {number}, column {at + 1}", "a value", f"a formula without a saved result ({cell})",
                "Open the sheet in the spreadsheet and save it, or write the value.",
                f"{path}: row {number}, column {at + 1}")
        for (number, cells), (_, computed) in zip(formulas, values, strict=True)
        for at, cell in enumerate(cells)
        if isinstance(cell, str) and cell.startswith("=") and computed[at] is None
    ]
    if problems:
        raise InputError(problems)
    return values


# --- files out ------------------------------------------------------------------------------------


def write_sheet(plan: Plan, path: str | Path) -> None:
    """Write the tasks of a plan as CSV or XLSX, by the ending of `path`.

    Raises
    ------
    InputError
        When the ending is another one, or the file cannot be written.
    """
    path = Path(path)
    writers: dict[str, Callable[[Path, list[list[Any]]], None]] = {".csv": _write_csv, ".xlsx": _write_xlsx}
    writer = writers.get(path.suffix.lower())
    if writer is None:
        raise refusal(path, "a name that ends in .csv or .xlsx", f"'{path.suffix}'", "Choose one of the two.")
    rows = [_row(task, None) for task in plan.tasks]
    rows += [_row(task, contingency.id) for contingency in plan.contingencies for task in contingency.tasks]
    try:
        writer(path, [list(COLUMNS), *rows])
    except OSError as wrong:
        raise refusal(path, "a place to write the sheet", str(wrong.strerror), "Choose another folder.") from None


def _row(task: Task, contingency: str | None) -> list[Any]:
    table = {**task_table(task), CONTINGENCY: contingency}
    return [_cell(table.get(column)) for column in COLUMNS]


def _cell(value: Any) -> Any:
    if isinstance(value, bool):
        return "yes" if value else ""
    if isinstance(value, list) and value and isinstance(value[0], int | float):
        return "/".join(str(part) for part in value)
    if isinstance(value, list):
        return " ".join(_follow_text(part) if isinstance(part, Mapping) else str(part) for part in value)
    return "" if value is None else value


def _follow_text(follow: Mapping[str, Any]) -> str:
    return f"{follow['task']}+{follow['lag']}" if follow.get("lag") else str(follow["task"])


def _write_csv(path: Path, rows: Iterable[list[Any]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(rows)


def _write_xlsx(path: Path, rows: Iterable[list[Any]]) -> None:
    book = openpyxl.Workbook()
    page = book.active
    assert page is not None
    page.title = "tasks"
    for row in rows:
        page.append(row)
        for cell in page[page.max_row]:
            if isinstance(cell.value, str):
                cell.data_type = "s"  # text that begins with = is no formula
    page.freeze_panes = "B2"
    book.save(path)
