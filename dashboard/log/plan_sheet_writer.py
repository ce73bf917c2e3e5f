"""Writes the tasks of a plan as a sheet, CSV or XLSX, which `dashboard.log.plan_sheet` reads back."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from dashboard.core.plan.model import Plan, Task
from dashboard.log.plan_sheet_cells import plan_cell
from dashboard.log.plan_sheet_columns import COLUMNS, CONTINGENCY
from dashboard.log.plantext import task_table
from dashboard.log.textfile import refusal


def write_plan_sheet(plan: Plan, path: str | Path) -> None:
    """Write the tasks of a plan as a sheet.

    Parameters
    ----------
    plan
        Its tasks are written first, then those of its contingencies.
    path
        The file; a name that ends in .csv gives CSV, one that ends in .xlsx gives XLSX.

    Raises
    ------
    InputError
        When the name ends otherwise, or the file cannot be written.
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
    return [plan_cell(table.get(column)) for column in COLUMNS]


def _write_csv(path: Path, rows: Iterable[list[Any]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(rows)


def _write_xlsx(path: Path, rows: Iterable[list[Any]]) -> None:
    import openpyxl  # type: ignore[import-untyped]  # takes a tenth of a second, so only workbooks load it

    book = openpyxl.Workbook()
    page = book.active
    assert page is not None
    page.title = "tasks"
    for row in rows:
        page.append(row)
        for cell in page[page.max_row]:
            if isinstance(cell.value, str):
                cell.data_type = "s"  # a text that begins with = is not a formula
    page.freeze_panes = "B2"
    book.save(path)
