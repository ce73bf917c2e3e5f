"""Texts in CSV that a spreadsheet would compute."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.log.csv_texts import guarded, unguarded


@pytest.mark.parametrize("text", ['=HYPERLINK("x")', "+1 person", "-see note", "@here", "'=1+1", "\t=1"])
def test_a_text_that_begins_like_a_formula_is_marked(text: str) -> None:
    """What a spreadsheet would compute begins with an apostrophe in the file."""
    assert guarded(text) == "'" + text


@pytest.mark.parametrize("cell", ["-0:30", "-5", "+1.5e3", "plain", "", "'quoted'", -5.0, None, 7])
def test_other_cells_stay_as_they_are(cell: object) -> None:
    """Numbers, times, and texts that no spreadsheet computes."""
    assert guarded(cell) == cell


@given(st.text(alphabet="'=+-@\t\ra1:. ", max_size=6))
def test_nothing_is_lost(text: str) -> None:
    """What is written is read as it was."""
    assert unguarded(str(guarded(text))) == text
