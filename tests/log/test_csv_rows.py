"""Rows of CSV one by one: a row that cannot be read carries the reason, and the others stand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from dashboard.core.base.problems import InputError
from dashboard.log.csv_rows import MOST_LINES_PER_ROW, csv_rows, delimiter_of
from dashboard.log.limits import EVENT_LOG
from dashboard.log.rows import Row
from tests.problems import assert_problem, the_only

PATH = Path("run.csv")


def rows(text: str, **limits: int) -> list[Row]:
    """The rows of a text."""
    return list(csv_rows(PATH, text.encode("utf-8", "surrogateescape"), replace(EVENT_LOG, **limits)))


def test_a_row_knows_its_number_its_line_and_its_text() -> None:
    """A cell in quotes may hold line ends; empty rows are counted and not given."""
    assert rows('id,text\n\nn1,"one\ntwo"\n"",\nn2,x\r\n') == [
        Row(1, ("id", "text"), 1, "id,text"),
        Row(3, ("n1", "one\ntwo"), 3, 'n1,"one\ntwo"'),
        Row(5, ("n2", "x"), 6, "n2,x"),
    ]


@pytest.mark.parametrize(
    ("row", "fault"),
    [
        ('n1,"open', "expected a row of CSV; found unexpected end of data"),
        ("n1,\udce9", "expected UTF-8; found byte 0xe9 at byte 3 of the line"),
        ("n1,x,x,x", "expected at most 3 cells; found 4"),
        ("n1,123456", "expected cells of at most 5 characters; found one of 6"),
    ],
)
def test_a_row_that_cannot_be_read_costs_itself_only(row: str, fault: str) -> None:
    """It comes with its line, its text and the reason."""
    first, wrong, last = rows(f"id,text\n{row}\nn2,x\n", columns=3, cell_characters=5)
    assert (wrong.number, wrong.line, wrong.cells, wrong.fault) == (2, 2, (), fault)
    assert wrong.raw == row.replace("\udce9", "\\xe9")
    assert (first.cells, last.cells) == (("id", "text"), ("n2", "x"))


def test_an_open_quote_takes_its_own_line_only() -> None:
    """However long the text behind it is."""
    found = rows('id\n"open\n' + "x\n" * MOST_LINES_PER_ROW * 2)
    assert [row.line for row in found if row.fault] == [2]
    assert len(found) == 2 + MOST_LINES_PER_ROW * 2


def test_more_rows_than_allowed_are_refused() -> None:
    """At the first row beyond the limit; before it every row is given."""
    given = csv_rows(PATH, b"id\nn1\nn2\nn3\n", replace(EVENT_LOG, rows=3))
    assert [next(given).number for _ in range(3)] == [1, 2, 3]
    with pytest.raises(InputError) as wrong:
        next(given)
    assert_problem(the_only(wrong.value.problems), subject="run.csv", expected="at most 3 rows", found="more", cure="Remove")


@pytest.mark.parametrize(
    ("lines", "sign"),
    [
        (["id;text", "n1;one, two, three"], ";"),
        (["id\ttext"], "\t"),
        (['"a;b;c",id'], ","),
        (["notes", "one;two"], ";"),
        (['"two', 'lines";x'], ";"),
        (["id"], ","),
        ([], ","),
    ],
)
def test_the_first_row_with_several_cells_tells_what_separates_them(lines: list[str], sign: str) -> None:
    """Signs within quotes do not count; without any sign it is the comma."""
    assert delimiter_of(lines) == sign
