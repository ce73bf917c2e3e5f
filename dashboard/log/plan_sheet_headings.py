"""Finds rows below the headings of a task sheet that belong to them: units, details in words, or names below a group.

1. Such a row holds no time or duration that can be read. Besides, it has no id and no title, or has headings in the place of its
   id, or more than half of its words are headings.
2. Its words and those of the row above it make one name for each column (`dashboard.log.headings.names_of_two_rows`).
3. A row that may be either a task or a part of the headings is refused: both rows are named, with what to do.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from dashboard.core.base.problems import InputError, Problem
from dashboard.core.base.times import parse_minutes
from dashboard.core.base.wording import listed
from dashboard.log.headings import names_of_two_rows
from dashboard.log.plan_sheet_cells import TIMES, plan_value
from dashboard.log.plan_sheet_columns import TASK, key_of
from dashboard.log.rows import Row, cell_text, is_filled
from dashboard.log.table import Table

MOST_ROWS = 2
_MEASURED = (*TIMES, "duration")
_NAMES = ("id", "title", TASK)


def with_rows_below(table: Table) -> Table:
    """Take the rows below the headings that belong to them into the names of the columns.

    Parameters
    ----------
    table
        A task sheet with its headings found.

    Returns
    -------
    Table
        The same one when the row below the headings is a task.

    Raises
    ------
    InputError
        When the row below the headings may be either.
    """
    for _ in range(MOST_ROWS):
        row = table.rows[0] if table.rows else None
        if row is None or row.number != table.header_row + 1 or not _belongs(table, row):
            return table
        names = names_of_two_rows(table.columns, row, details=True)
        table = replace(table, header_row=row.number, columns=names, rows=table.rows[1:])
    return table


def _belongs(table: Table, row: Row) -> bool:
    texts = [cell_text(cell) for cell in row.cells]
    if not all(isinstance(cell, str) for cell in row.cells if is_filled(cell)):
        return False
    keys = [key_of(name)[0] for name in table.columns]
    filled = [(name, key, text) for name, key, text in zip(table.columns, keys, texts, strict=False) if text]
    measured = {name: text for name, key, text in filled if key in _MEASURED}
    if any(_is_value(key, text) for _, key, text in filled if key in _MEASURED):
        return False
    if not any(key in _NAMES for _, key, _ in filled):
        unnamed = [text for name, _, text in filled if not name] or texts[len(table.columns) :]
        return bool(measured) or any(unnamed)
    if not measured:
        return False
    first = next((text for _, key, text in filled if key in ("id", TASK)), "")
    if 2 * sum(bool(key_of(text)[0]) for text in texts if text) > sum(map(bool, texts)):
        return True
    if "id" in keys and (not first or len(first.split()) > 1 or key_of(first)[0]):
        return True
    if len(measured) > 1:
        raise InputError([_either(table, row, texts, measured)])
    return False


def _is_value(key: str, text: str) -> bool:
    value = plan_value(key, text).value
    try:
        return all(parse_minutes(part) is not None for part in (value if isinstance(value, list) else [value]))
    except ValueError:
        return False


def _either(table: Table, row: Row, texts: Sequence[str], measured: Mapping[str, str]) -> Problem:
    no_times = listed([f"'{text}' for {name}" for name, text in measured.items()])
    return Problem(
        f"rows {table.header_row} and {row.number}", "headings in one row, or units or details of them in the row below",
        f"a row {row.number} that may be headings or a task without a time that can be read: "
        f"'{' | '.join(filter(None, texts))}', with {no_times}",
        f"If row {row.number} belongs to the headings, write both rows as one, or delete row {row.number}. "
        "If it is a task, correct its times.",
        table.place(row.number),
    )
