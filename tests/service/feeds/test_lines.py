"""Whole lines out of bytes that come in pieces."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from dashboard.service.feeds.lines import LONGEST_LINE_BYTES, Line, Lines


@given(st.binary(max_size=60), st.lists(st.integers(0, 60), max_size=6))
def test_lines_do_not_depend_on_the_pieces_in_which_they_come(data: bytes, cuts: list[int]):
    """Wherever the bytes are cut, the same lines come with the same numbers."""
    places = sorted({0, len(data), *(min(cut, len(data)) for cut in cuts)})
    pieces = [data[start:end] for start, end in zip(places, places[1:], strict=False)]
    lines = Lines()
    found = [line for piece in pieces for line in lines.add(piece)]
    assert [line.raw for line in found] == [line.removesuffix(b"\r") for line in data.split(b"\n")[:-1]]
    assert [line.number for line in found] == list(range(1, data.count(b"\n") + 1))
    assert lines.part == data.split(b"\n")[-1]


def test_an_unfinished_line_waits_and_may_be_taken():
    """What follows it up to the end of the line is a line of its own, with the same number."""
    lines = Lines()
    assert lines.add(b"one\ntw") == [Line(1, b"one", 3)]
    assert lines.take_part() == Line(2, b"tw", 2)
    assert lines.take_part() is None
    assert lines.add(b"o\nthree\n") == [Line(2, b"o", 1), Line(3, b"three", 5)]


def test_a_line_without_end_takes_no_more_memory_than_the_longest_line():
    """It is cut off, and says how long it was."""
    lines = Lines()
    for _ in range(4):
        assert lines.add(b"x" * LONGEST_LINE_BYTES) == []
    (line,) = lines.add(b"\n")
    assert (len(line.raw), line.size) == (LONGEST_LINE_BYTES, 4 * LONGEST_LINE_BYTES)
