"""Writes a plan as sheets that `dashboard.log.plan_sheet` and `dashboard.log.plan_workbook` read back.

CSV (RFC 4180) holds the tasks. A byte-order mark stands before it where its text is not plain ASCII: without the mark,
spreadsheets show such text wrongly. XLSX holds every table of the plan, one sheet for each.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from dashboard.core.plan.model import Plan, Task
from dashboard.log.csv_texts import guarded
from dashboard.log.plan_sheet import SHEET_NAME
from dashboard.log.plan_sheet_cells import plan_cell
from dashboard.log.plan_sheet_columns import COLUMNS, CONTINGENCY
from dashboard.log.plan_workbook import rows_of_tables
from dashboard.log.plantext import item_table
from dashboard.log.textfile import UTF8_MARK, refusal, wrong_ending

ENDINGS = (".csv", ".xlsx")
WIDEST = 60  # characters of a column of a workbook
DIGITS = 15  # of a number in a workbook, as spreadsheets keep it; a number with more is written as text


def sheet_of_plan(plan: Plan, path: Path) -> bytes:
    """The content of a sheet with a plan.

    Parameters
    ----------
    plan
        Its tasks are written first, then those of its contingencies.
    path
        The file that it is for; .csv gives CSV with the tasks, .xlsx gives XLSX with the whole plan.

    Returns
    -------
    bytes

    Raises
    ------
    InputError
        When the name ends otherwise, or a workbook cannot hold a text of the plan.
    """
    if path.suffix.lower() not in ENDINGS:
        raise wrong_ending(path, ENDINGS, "Choose one of the two.")
    rows = _task_rows(plan)
    return _csv(rows) if path.suffix.lower() == ".csv" else _xlsx(path, {SHEET_NAME: rows, **rows_of_tables(plan)})


def _task_rows(plan: Plan) -> list[list[Any]]:
    rows = [_row(task, None) for task in plan.tasks]
    rows += [_row(task, contingency.id) for contingency in plan.contingencies for task in contingency.tasks]
    return [list(COLUMNS), *rows]


def _row(task: Task, contingency: str | None) -> list[Any]:
    table = {**item_table(task), CONTINGENCY: contingency}
    return [plan_cell(table.get(column)) for column in COLUMNS]


def _csv(rows: Iterable[list[Any]]) -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\r\n").writerows([guarded(cell) for cell in row] for row in rows)
    text = out.getvalue()
    return (b"" if text.isascii() else UTF8_MARK) + text.encode("utf-8")


def _xlsx(path: Path, sheets: dict[str, list[list[Any]]]) -> bytes:
    import openpyxl  # type: ignore[import-untyped]  # takes a tenth of a second, so only workbooks load it
    from openpyxl.styles import Font  # type: ignore[import-untyped]
    from openpyxl.utils.exceptions import IllegalCharacterError  # type: ignore[import-untyped]

    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        page = book.create_sheet(name)
        for number, row in enumerate(rows, start=1):
            for column, value in enumerate(row, start=1):
                if value == "":
                    continue
                if isinstance(value, float) and float(f"{value:.{DIGITS}g}") != value:
                    value = repr(value)
                try:
                    cell = page.cell(number, column, value)
                except IllegalCharacterError:
                    found = f"a control character in {value[:60]!r} (sheet {name}, row {number})"
                    raise refusal(path, "text that a workbook can hold", found, "Take the character out, or use CSV.") from None
                if isinstance(value, str):
                    cell.data_type = "s"  # a text that begins with = is not a formula
                if number == 1:
                    cell.font = Font(bold=True)
        for column, letters in enumerate(map(openpyxl.utils.get_column_letter, range(1, len(rows[0]) + 1))):
            page.column_dimensions[letters].width = min(WIDEST, max(8, 2 + max(len(str(row[column])) for row in rows)))
        page.freeze_panes = "B2"
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()
