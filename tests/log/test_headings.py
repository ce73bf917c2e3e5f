"""The names of the columns are found wherever they stand."""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import given
from hypothesis import strategies as st

from dashboard.log.headings import Headings, find_headings
from dashboard.log.rows import Row

KNOWN = {"id", "start", "duration", "Times / start", "start / PET", "duration / min", "id / "}


def fits(names: Sequence[str]) -> int:
    """How many of these names are known, if an id is among them."""
    return sum(name in KNOWN for name in names) if "id" in names else 0


def rows(*cells: tuple[str, ...]) -> list[Row]:
    """Rows from 1 on."""
    return [Row(number, row) for number, row in enumerate(cells, start=1)]


def test_title_rows_above_are_passed_over() -> None:
    """The row that fits best names the columns; among equals the earlier one."""
    found = find_headings(rows(("Plan rev C",), ("id", "x"), ("id", "start"), ("id", "start")), fits)
    assert found == Headings(2, 2, ("id", "start"))


def test_a_row_of_groups_and_a_row_of_names_make_one_name_each() -> None:
    """The group counts for the columns to its right that have a name below it."""
    found = find_headings(rows(("id", "Times", ""), ("", "start", "end"), ("T1", "0:10", "0:20")), fits)
    assert found == Headings(0, 1, ("id", "Times / start", "Times / end"))


def test_a_row_of_units_belongs_to_the_names() -> None:
    """Though it adds no name; a row of content does not."""
    assert find_headings(rows(("id", "start", "duration"), ("", "PET", "min"), ("T1", "0:10", "5")), fits).last == 1
    assert find_headings(rows(("id", "start", "duration"), ("T1", "PET", "min")), fits).last == 0


def test_rows_apart_are_no_pair() -> None:
    """An empty row lies between them."""
    pair = [Row(1, ("id", "Times")), Row(3, ("", "start"))]
    assert find_headings(pair, fits) == Headings(0, 0, ("id", "Times"))


def test_where_nothing_fits_the_first_row_is_given() -> None:
    """So that the error says what is wrong with it; the same where nothing is asked of the names."""
    for asked in (fits, None):
        assert find_headings(rows(("some words",), ("and more",)), asked) == Headings(0, 0, ("some words",))


CELLS = st.lists(st.sampled_from(["", "id", "start", "PET", "min", "T1", "7"]), min_size=1, max_size=4)


@given(st.lists(CELLS, min_size=1, max_size=6))
def test_what_is_found_lies_in_the_rows_and_fits_at_least_as_well_as_any_row(cells: list[list[str]]) -> None:
    """Whatever stands in the sheet."""
    given_rows = rows(*map(tuple, cells))
    found = find_headings(given_rows, fits)
    assert 0 <= found.first <= found.last < len(given_rows) and found.last - found.first <= 1
    assert fits(found.names) >= max(fits([str(cell) for cell in row.cells]) for row in given_rows)
