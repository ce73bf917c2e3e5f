"""The lane sheet as briefed: every block in its column and at its time, told apart by form."""

from __future__ import annotations

import pytest

from dashboard.core.brief.look_ahead import brief
from dashboard.figures.brief_sheet import HEAD, lane_sheets
from dashboard.figures.drawing import Line, Rect, Words, text_width
from tests.core.brief.made import PLAN, TEXT, changed
from tests.scenario import plan_of

FACTS = brief(PLAN, draws=0)


def sheet(facts=FACTS, **more):
    return lane_sheets(facts, 520, **more)


@pytest.mark.parametrize("most_min", [300, 60])
def test_every_mark_lies_inside_its_drawing(most_min):
    """Nothing is cut, however many parts the sortie is drawn in."""
    for one in sheet(most_min=most_min):
        for mark in one.drawing.marks:
            if isinstance(mark, Rect):
                corners = [(mark.x, mark.y), (mark.x + mark.width, mark.y + mark.height)]
            elif isinstance(mark, Line):
                corners = list(mark.points)
            else:
                left = mark.x - {"start": 0.0, "end": text_width(mark.text, mark.size)}[mark.anchor]
                corners = [(max(left, 0), mark.y - mark.size), (left + 0.9 * text_width(mark.text, mark.size), mark.y)]
            for x, y in corners:
                assert -1 <= x <= one.drawing.width + 1 and -1 <= y <= one.drawing.height + 1, mark


def test_a_block_stands_at_its_time_and_spans_its_lanes():
    """A joint task of neighbours is one block; the top of a block is its briefed start, its height its likely length."""
    (one,) = sheet(pt_a_min=2.0)
    left, top, width, height = one.blocks["LAMP"][0]
    assert top == HEAD + 2 * 20 and height == pytest.approx(2 * 30, abs=1)
    joint = one.blocks["JOIN"]
    assert len(joint) == 1 and joint[0][2] > 2.5 * width
    assert set(one.blocks) == {step.task for step in FACTS.steps}
    assert one.columns["EV1"] < left < one.columns["EV1"] + 10 and sorted(one.columns) == ["ARM", "EV1", "EV2"]


def test_each_step_has_a_box_to_tick_once():
    """Also when its block goes on in the next part."""
    ticks = [mark for one in sheet(most_min=60) for mark in one.drawing.marks if isinstance(mark, Rect) and mark.edge == "text"]
    assert len(ticks) == len(FACTS.steps)


def test_options_stand_beside_each_other():
    """The one that is not the default has a broken edge, and neither covers the other."""
    (one,) = sheet()
    (keep,), (lash,) = one.blocks["KEEP"], one.blocks["LASH"]
    assert keep[0] + keep[2] <= lash[0]
    broken = [mark for mark in one.drawing.marks if isinstance(mark, Rect) and mark.dash]
    assert [(mark.x, mark.y) for mark in broken] == [lash[:2]]


def test_what_changed_has_a_bar():
    """Left of its block; without a last issue there is none."""
    facts = brief(PLAN, against=changed(("duration = [20, 30, 50]", "duration = [20, 25, 50]")), draws=0)
    (one,) = sheet(facts)
    bars = [mark for mark in one.drawing.marks if isinstance(mark, Rect) and mark.fill == "strong-edge"]
    assert [(bar.y, bar.height) for bar in bars] == [(one.blocks["LAMP"][0][1], one.blocks["LAMP"][0][3])]
    assert bars[0].x + bars[0].width < one.blocks["LAMP"][0][0]
    assert not [mark for mark in sheet()[0].drawing.marks if isinstance(mark, Rect) and mark.fill == "strong-edge"]


def test_waits_windows_limit_and_endings_stand_in_words():
    """Beside the columns, or in the wait itself; none covers another."""
    (one,) = sheet()
    said = [mark for mark in one.drawing.marks if isinstance(mark, Words)]
    text = " ".join(mark.text for mark in said)
    for wanted in ("waits for CARRY", "daylight PET 0:20", "dark PET 1:20", "limit PET 2:40", "decide ending by", "If: stuck"):
        assert wanted in text, wanted
    side = sorted((mark.y, mark.size) for mark in said if mark.x > 440)
    assert all(below - above >= size for (above, _), (below, size) in zip(side, side[1:], strict=False))


def test_a_plan_without_starts_has_no_sheet():
    """There is nothing to draw."""
    only = TEXT[: TEXT.index("[[task]]")] + '[[task]]\nid = "G"\nlanes = ["EV2"]\nduration = 5\nget_ahead = true\n'
    assert sheet(brief(plan_of(only), draws=0)) == []
