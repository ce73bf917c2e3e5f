"""The drawings of the debrief: inside their frame, told apart by form, in as many parts as the sortie is long."""

from __future__ import annotations

import pytest

from dashboard.figures.as_run import MOST_MIN, as_run
from dashboard.figures.drawing import Line, Rect, Words, fitting, text_width, wrapped
from dashboard.figures.foreseen import foreseen
from dashboard.figures.svg import svg
from tests.reports import facts as made

EVERY = {"ended": made.ended, "so far": made.so_far, "nothing": made.nothing}


def all_drawings(facts):
    drawn = foreseen(facts, 520)
    return [*as_run(facts, 520), *([drawn] if drawn else [])]


@pytest.mark.parametrize("facts", EVERY.values(), ids=EVERY)
def test_every_mark_lies_inside_its_drawing(facts):
    """Nothing is cut: rectangles, lines and words stay within width and height."""
    drawings = all_drawings(facts())
    assert drawings
    for drawing in drawings:
        for mark in drawing.marks:
            if isinstance(mark, Rect):
                corners = [(mark.x, mark.y), (mark.x + mark.width, mark.y + mark.height)]
            elif isinstance(mark, Line):
                corners = list(mark.points)
            else:
                width = text_width(mark.text, mark.size)
                left = mark.x - {"start": 0, "middle": width / 2, "end": width}[mark.anchor]
                corners = [(max(left, 0), mark.y - mark.size), (left + width * 0.9, mark.y)]
            for x, y in corners:
                assert -2 <= x <= drawing.width + 1 and -2 <= y <= drawing.height + 1, mark


def test_a_long_sortie_is_drawn_in_parts():
    """None covers more than fits a page, and each says which stretch it is."""
    drawings = as_run(made.ended(), 520)
    assert len(drawings) == 1
    longer = made.ended().lanes["EV1"].segments[-1].model_copy(update={"from_pet_min": 110.0, "to_pet_min": 500.0})
    lane = made.ended().lanes["EV1"].model_copy(update={"segments": [longer]})
    parts = as_run(made.ended().model_copy(update={"lanes": {"EV1": lane}}), 520)
    assert len(parts) == -(-500 // MOST_MIN)
    assert "PET 0:00 to" in parts[0].label and "to PET 8:20" in parts[-1].label


def test_brief_and_run_are_told_apart_without_colour():
    """The brief has no fill, what was done has one; what is to come and holds have a broken edge."""
    rects = [m for d in as_run(made.so_far(), 520) for m in d.marks if isinstance(m, Rect)]
    hollow = [m for m in rects if m.fill is None and not m.dash]
    solid = [m for m in rects if m.fill == "done-fill" and not m.dash]
    broken = [m for m in rects if m.dash]
    assert len(hollow) == 6 and len(solid) == 3 and broken


def test_what_was_given_up_is_struck_through():
    """T040 was deferred: its two briefed blocks are struck through, and no other."""
    strikes = [
        m for d in as_run(made.ended(), 520) for m in d.marks
        if isinstance(m, Line) and m.role == "text" and len(m.points) == 2 and m.points[0][1] != m.points[1][1]
    ]
    assert len(strikes) == 2


def test_words_wrap_and_nothing_is_cut():
    """Words break into lines that fit; what does not fit gives way to a shorter text, never to half of one."""
    assert wrapped("one two three", text_width("one two", 10) + 1, 10) == ["one two", "three"]
    assert "".join(wrapped("W" * 50, 60, 10)) == "W" * 50
    assert fitting(["T010 a long title", "T010"], 30, 14, 10) == ["T010"]
    assert fitting(["T010"], 30, 5, 10) == []


def test_the_svg_escapes_and_resolves():
    """Titles are escaped, and no colour role is left to a style sheet."""
    page = "".join(svg(drawing) for drawing in all_drawings(made.ended()))
    assert "<pump>" not in page and "&lt;pump&gt;" in page
    assert "var(" not in page and "None" not in page


def test_the_actual_end_stands_beside_the_projections():
    """The strip names the actual end, the brief and the limit with their PET."""
    drawn = foreseen(made.ended(), 520)
    said = {m.text for m in drawn.marks if isinstance(m, Words)}
    assert {"actual PET 1:44", "briefed PET 1:50"} <= said and any(text.startswith("limit PET") for text in said)
    assert foreseen(made.nothing(), 520) is None
