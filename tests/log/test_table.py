"""One reader for tables: CSV and XLSX give the same rows, and every cell knows its place."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.core.base.problems import InputError, Problem
from dashboard.log.limits import PLAN_SHEET, TableLimits
from dashboard.log.rows import cell_text, is_filled
from dashboard.log.table import Table, read_table
from tests.log.workbooks import workbook
from tests.problems import assert_problem, the_only

CSV, XLSX = Path("tasks.csv"), Path("tasks.xlsx")
SMALL = replace(PLAN_SHEET, file_mb=0.001, rows=3, columns=2, cells=100, cell_characters=4)
WORDS = st.text(st.characters(blacklist_categories=("Cs", "Cc", "Cn")), max_size=8) | st.sampled_from(
    ["", " ", "=1+1", "1:50", '5/8" bolt', "a;b,c", "two\nlines", "\ttab", "<b>&amp;", "_x0041_", "-", "+1", "007"]
)
TABLES = st.lists(st.lists(WORDS, min_size=1, max_size=5), min_size=1, max_size=6)


def csv_text(rows: list[list[str]], delimiter: str = ",") -> bytes:
    """These rows as CSV."""
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="\n", quoting=csv.QUOTE_ALL).writerows(rows)
    return out.getvalue().encode()


def refused(path: Path, data: bytes, limits: TableLimits = PLAN_SHEET) -> Problem:
    """The one problem with which a table is refused."""
    with pytest.raises(InputError) as wrong:
        read_table(path, limits, data=data)
    return the_only(wrong.value.problems)


def texts(table: Table) -> list[tuple[int, list[str]]]:
    """The rows by number and words."""
    return [(row.number, [cell_text(cell) for cell in row.cells]) for row in table.rows]


@given(rows=TABLES, delimiter=st.sampled_from(",;\t"))
def test_csv_and_xlsx_of_the_same_table_give_the_same_rows(rows: list[list[str]], delimiter: str) -> None:
    """Names of columns, numbers of rows and words of cells agree; nothing but empty cells is left out."""
    written, book = csv_text(rows, delimiter), workbook(rows, as_text=True)
    if not any(is_filled(cell) for row in rows for cell in row):
        assert "no row" in refused(CSV, written).found and "no row" in refused(XLSX, book).found
        return
    one, other = read_table(CSV, PLAN_SHEET, data=written), read_table(XLSX, PLAN_SHEET, data=book)
    assert (one.header_row, one.columns, texts(one)) == (other.header_row, other.columns, texts(other))
    read = {one.header_row: list(one.columns), **dict(texts(one))}
    for number, row in enumerate(rows, start=1):
        words = [cell.strip() for cell in row]
        while words and not words[-1]:
            words.pop()
        assert read.get(number, []) == words


def test_rows_keep_the_numbers_that_a_spreadsheet_shows() -> None:
    """Empty rows above, between and below are counted; a cell that runs over lines is one row."""
    rows = [["", ""], ["id", "notes"], ["T1", "one\ntwo"], ["", " "], ["T2", ""]]
    for path, data in ((CSV, csv_text(rows)), (XLSX, workbook(rows))):
        table = read_table(path, PLAN_SHEET, data=data)
        assert (table.header_row, texts(table)) == (2, [(3, ["T1", "one\ntwo"]), (5, ["T2"])])


def test_a_place_names_file_sheet_row_and_column() -> None:
    """A column without a name goes by its letter."""
    table = read_table(XLSX, PLAN_SHEET, data=workbook([["id", None, "after"]], sheet="swap"))
    assert table.place(4, table.column_name(2)) == "tasks.xlsx: sheet swap, row 4, column after"
    assert [table.column_name(index) for index in (1, 3, 25, 26, 701, 702, 16_383)] == [
        "B", "D", "Z", "AA", "ZZ", "AAA", "XFD",
    ]
    assert read_table(CSV, PLAN_SHEET, data=b"id\nT1\n").place(2) == "tasks.csv: row 2"


def test_the_preferred_sheet_is_read_where_there_is_one() -> None:
    """Else the first."""
    data = workbook([["first"]], sheet="other")
    assert read_table(XLSX, PLAN_SHEET, "tasks", data=data).columns == ("first",)
    assert read_table(XLSX, PLAN_SHEET, "other", data=data).sheet == "other"


@pytest.mark.parametrize(
    "data",
    [b"\xef\xbb\xbfid,start\r\nT1,1:50\r\n", b"id;start\nT1;1:50", b"id\tstart\rT1\t1:50\r", b'"id","a;b;c",\n"T1",1:50\n'],
    ids=["byte-order mark, line ends of two signs", "semicolons", "tabs, line ends of one sign", "signs within quotes"],
)
def test_the_usual_forms_of_csv_are_read(data: bytes) -> None:
    """Whatever program wrote it."""
    table = read_table(CSV, PLAN_SHEET, data=data)
    assert (table.columns[0], texts(table)) == ("id", [(2, ["T1", "1:50"])])


@pytest.mark.parametrize(
    ("data", "found", "line"),
    [
        (b'id\nT1\n"never closed\n', "row 3", 3),
        (b'id\n"a" b\n', "row 2", 2),
        ("id\nT1\n".encode("utf-16"), "UTF-16", None),
        (b"id\nCaf\xe9\n", "byte 0xe9 at byte 6 (line 2)", None),
    ],
)
def test_text_that_is_no_csv_is_refused_with_its_place(data: bytes, found: str, line: int | None) -> None:
    """A sheet is taken whole or not at all."""
    assert_problem(refused(CSV, data), subject="tasks.csv", expected="a task sheet", found=found, cure="",
                   where="tasks.csv" if line is None else f"tasks.csv:{line}")


@pytest.mark.parametrize(
    ("rows", "expected", "found"),
    [
        ([["id"]] * 4, "at most 3 rows", "more"),
        ([["id", "a", "b"]], "at most 2", ""),
        ([["id"], ["12345"]], "at most 4 characters", "5"),
        ([["id"], ["x" * 1000]], "at most 0.001 MB", "0.1 MB"),
    ],
)
def test_each_limit_refuses_a_table_that_passes_it(rows: list[list[str]], expected: str, found: str) -> None:
    """Rows, columns, length of a cell, size of the file; what is at the limit is read."""
    limits = SMALL if "MB" in expected else replace(SMALL, file_mb=1.0)
    for path, data in ((CSV, csv_text(rows)), (XLSX, workbook(rows))):
        problem = refused(path, data, limits)
        assert expected in problem.text() and found in problem.text(), problem.text()
        assert problem.cure


def test_a_table_at_its_limits_is_read() -> None:
    """Three rows, two columns, four characters."""
    rows = [["id", "text"], ["T1", "abcd"], ["T2", "efgh"]]
    for path, data in ((CSV, csv_text(rows)), (XLSX, workbook(rows))):
        assert texts(read_table(path, replace(SMALL, file_mb=1.0), data=data)) == [(2, ["T1", "abcd"]), (3, ["T2", "efgh"])]
