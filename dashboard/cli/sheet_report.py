"""The options for reading a task sheet, and the report of how it was read, for every command that reads one."""

from __future__ import annotations

from collections import Counter
from typing import Annotated, Any

import typer

from dashboard.cli.printing import listed
from dashboard.log.plan_sheet import PlanSheet
from dashboard.log.plan_sheet_columns import CONTINGENCY, MARK, Column
from dashboard.words import how_many

MOST_SHOWN = 20

Columns = Annotated[
    list[str] | None,
    typer.Option("--columns", help="The columns of a sheet: duration='How long',lanes=Crew (a key of a task = its heading)."),
]
LeaveOut = Annotated[
    list[str] | None, typer.Option("--leave-out", help="A column of the sheet, by heading or letter, whose cells are not wanted.")
]
SheetName = Annotated[
    str, typer.Option("--sheet", help="The sheet of a workbook; by default 'tasks', or the one that fits best.")
]


def report_of_sheet(sheet: PlanSheet | None) -> list[Any]:
    """Say how a sheet was read, as printable parts.

    Parameters
    ----------
    sheet
        The task sheet; None for a plan in TOML, of which nothing is said.

    Returns
    -------
    list
        Texts: where the headings are, what each column was taken as, cells and rows that were not taken as they stand.
    """
    if sheet is None:
        return []
    table = sheet.table
    where = f"sheet {table.sheet}, " if table.sheet else ""
    parts: list[Any] = [
        f"Read {how_many(len(sheet.tasks), 'task')} from {table.path.name} ({where}headings in row {table.header_row})."
    ]
    renamed = [f"  {one.heading}: {_meaning(one)}" for one in sheet.columns if one.named and one.heading != one.key]
    parts += listed("Columns taken by their common names, or kept otherwise", renamed, len(renamed)) if renamed else []
    ways = Counter((one.column, one.how) for one in sheet.taken)
    examples = {(one.column, one.how): one for one in reversed(sheet.taken)}
    cells = [
        f"{column}: {how_many(count, 'cell')} read as {how}, such as '{examples[column, how].found}' in row "
        f"{examples[column, how].row}: {_shown(examples[column, how].taken)}"
        for (column, how), count in ways.items()
    ]
    parts += listed("Cells read by their words", cells, len(cells)) if cells else []
    rows = [f"row {one.row}: '{one.text}': {one.why}" for one in sheet.not_taken]
    more = [f"and {len(rows) - MOST_SHOWN} more; --json has them all"] if len(rows) > MOST_SHOWN else []
    parts += listed("Rows that are no tasks", [*rows[:MOST_SHOWN], *more], len(rows)) if rows else []
    return [*parts, *sheet.remarks]


def _meaning(column: Column) -> str:
    if not column.wanted:
        return "left out"
    if column.key == MARK:
        return "a mark of that lane"
    return f"{column.key}{' in hours' if column.in_hours else ''}" if column.key else "kept in the notes of the task"


def _taken_as(column: Column) -> str | None:
    if not column.wanted:
        return None
    return ("lanes" if column.key == MARK else column.key) or ("notes" if column.named else None)


def _shown(value: Any) -> str:
    return "/".join(f"{part:g}" if isinstance(part, float) else str(part) for part in value) if isinstance(value, list) else (
        f"{value:g}" if isinstance(value, float) else str(value)
    )


def sheet_json(sheet: PlanSheet) -> dict[str, Any]:
    """Say how a sheet was read, for JSON.

    Parameters
    ----------
    sheet
        The task sheet.

    Returns
    -------
    dict
        Its headings, columns, cells and rows that were not taken as they stand, and what else was assumed.
    """
    return {
        "file": str(sheet.table.path),
        "sheet": sheet.table.sheet or None,
        "heading_row": sheet.table.header_row,
        "tasks": sum(CONTINGENCY not in one for one in sheet.tasks),
        "contingency_tasks": sum(CONTINGENCY in one for one in sheet.tasks),
        "columns": [
            {"heading": one.heading, "taken_as": _taken_as(one), "unit": one.unit or None}
            for one in sheet.columns
        ],
        "cells_read_by_their_words": [one._asdict() for one in sheet.taken],
        "rows_not_taken": [one._asdict() for one in sheet.not_taken],
        "remarks": sheet.remarks,
    }
