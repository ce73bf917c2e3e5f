"""Two editors of one text: each change in words, and both together where they do not change the same lines."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from dashboard.log.text_difference import merged_texts

BASE = "a\nb\nc\nd\n"
LINES = st.lists(st.sampled_from("abcd"), max_size=6).map(lambda lines: "".join(f"{line}\n" for line in lines))


def test_changes_of_different_lines_are_put_together() -> None:
    """Replaced, new and taken out; each in words with the lines of the first text."""
    found = merged_texts(BASE, "a\nB\nc\nd\ne\n", "x\na\nb\nd\nf\n")
    assert found.text == "x\na\nB\nd\ne\nf\n" and found.both == []
    assert found.theirs == ["line 2: 'b' became 'B'", "after line 4: 'e' is new"]
    assert found.yours == ["at the top: 'x' is new", "line 3: 'c' was taken out", "after line 4: 'f' is new"]


def test_the_same_lines_changed_differently_are_named_and_not_merged() -> None:
    """What both changed alike is no clash."""
    found = merged_texts(BASE, "a\nB\nC\nd\n", "a\nb\ncc\nd\n")
    assert found.text is None and found.both == ["lines 2 to 3: in the file 'B / C', in your text 'cc'"]
    assert merged_texts(BASE, "a\nB\nc\nd\n", "a\nB\nc\nD\n").text == "a\nB\nc\nD\n"


@given(LINES, LINES)
def test_one_editor_alone_is_taken_as_it_is(base: str, edited: str) -> None:
    """Whichever of the two it is."""
    assert merged_texts(base, edited, base).text == edited == merged_texts(base, base, edited).text
    assert merged_texts(base, edited, edited).text == edited
