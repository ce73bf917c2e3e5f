"""The geometry of the lane sheet: what is in view, and what has room in axis and margin."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from tests.browser.pure.conftest import Run

PLACE = {"width": 900, "height": 800, "column": 300, "perMin": 4}
VIEW = [100, 300]


def payload(now: float, first: float = 0, last: float = 400) -> dict[str, Any]:
    return {"now": now, "span": [first, last]}


@pytest.mark.parametrize(("now", "view"), [(180, [100, 300]), (10, [0, 200]), (390, [200, 400])])
def test_now_stands_at_two_fifths_of_the_view_that_follows_it(run: Run, now: float, view: list[float]) -> None:
    """But the view does not leave the sortie."""
    assert run("return modules.geometry.followed(given[0], 800)", payload(now)) == view


def test_a_sortie_shorter_than_the_view_begins_at_its_top(run: Run) -> None:
    """Whatever the time."""
    assert run("return modules.geometry.followed(given[0], 800)", payload(50, -5, 90)) == [-5, 195]


@pytest.mark.parametrize(
    ("wanted", "view"),
    [([100, 300], [100, 300]), ([-500, 900], [-30, 430]), ([-100, 0], [-30, 70]), ([420, 520], [330, 430]),
     ([99, 101], [90, 110])],
)  # fmt: skip
def test_a_view_stays_by_the_sortie_and_is_not_too_short(run: Run, wanted: list[float], view: list[float]) -> None:
    """It keeps its length where it can; half an hour beyond either end is shown, and never less than 20 min."""
    assert run("return modules.geometry.within(given[0], given[1])", wanted, payload(50)) == view


def test_the_view_moves_by_shares_of_its_length(run: Run) -> None:
    """Earlier, and closer."""
    assert run("return modules.geometry.moved([100, 300], [-0.3, -0.3])") == [40, 240]
    assert run("return modules.geometry.moved([100, 300], [0.15, -0.15])") == [130, 270]


def test_a_time_comes_into_view_where_now_stands(run: Run) -> None:
    """The length of the view stays."""
    assert run("return modules.geometry.around(340, [100, 300])") == [260, 460]


@pytest.mark.parametrize(
    ("message", "view"),
    [({"yaxis.range": [300, 100]}, [100, 300]), ({"yaxis.range[0]": 300, "yaxis.range[1]": 100}, [100, 300]),
     ({"xaxis.range": [0, 1]}, None)],
)  # fmt: skip
def test_the_view_of_a_wheel_or_a_drag_is_understood(run: Run, message: dict[str, Any], view: list[float] | None) -> None:
    """In both forms of Plotly's message; anything else moves nothing."""
    assert run("return modules.geometry.pannedTo(given[0])", message) == view


def test_the_plot_is_what_the_margins_leave(run: Run) -> None:
    """Per column and per minute, and never nothing."""
    margin = {"l": 60, "r": 40, "t": 30, "b": 10}
    measure = "return modules.geometry.placing(given[0], given[1], 3, [100, 300])"
    assert run(measure, {"width": 1000, "height": 840}, margin) == PLACE
    assert run(measure, {"width": 10, "height": 10}, margin)["height"] > 0


@pytest.mark.parametrize("length", [20, 60, 200, 400, 900])
def test_ticks_never_stand_closer_than_their_texts_need(run: Run, length: float) -> None:
    """46 px apart or more, on whole steps of the clock."""
    place = {**PLACE, "perMin": PLACE["height"] / length}
    found = run("return modules.geometry.ticks([3, given[1]], [], given[0])", place, 3 + length)
    assert len(found["tickvals"]) >= 2
    for before, after in pairwise(found["tickvals"]):
        assert (after - before) * place["perMin"] >= 46
        assert before % 5 == 0


def test_a_tick_under_a_badge_or_at_an_end_of_the_axis_has_no_text(run: Run) -> None:
    """Its text would be covered, or cut."""
    found = run("return modules.geometry.ticks([90, 300], [{at: 149}], given[0])", PLACE)
    texts = dict(zip(found["tickvals"], found["ticktext"], strict=True))
    assert texts[90] == texts[300] == texts[150] == ""
    assert texts[120] == "2:00" and texts[180] == "3:00"


def test_of_badges_that_would_cover_each_other_the_first_stays(run: Run) -> None:
    """And one that the edge would cut is not shown."""
    badges = [{"at": at} for at in (150, 152, 160, 101, 299)]
    found = run("return modules.geometry.shownBadges(given[0], given[1], given[2])", badges, VIEW, PLACE)
    assert [badge["at"] for badge in found] == [150, 160]


def test_texts_beside_the_columns_do_not_cover_each_other(run: Run) -> None:
    """One moves down below the other, or stays away where it would stand too far from its time."""
    texts = {200: "b", 199: "a<br>a", 201: "c", 202: "d", 90: "out of view"}
    sides = [{"at": at, "text": text, "colour": "c"} for at, text in texts.items()]
    notes = run("return modules.geometry.sideNotes(given[0], given[1], given[2])", sides, VIEW, PLACE)
    assert [note["text"] for note in notes] == ["a<br>a", "b"]
    tops = [(note["y"] - VIEW[0]) * PLACE["perMin"] for note in notes]
    assert tops[1] - tops[0] >= 2 * 17


def test_each_lane_has_its_name_above_its_column(run: Run) -> None:
    """And the axis says that its times are PET."""
    found = run("return modules.geometry.heads([{at: 0, text: 'EV1'}, {at: 1, text: 'EV2'}], {width: 900}, {column: 300})")
    assert [(head["x"], head["text"]) for head in found] == [(0, "PET"), (0, "EV1"), (1, "EV2")]


@pytest.mark.parametrize(("width", "head", "margin"), [
    (900, "<b>EV1</b>  <span>late</span>", {"l": 66, "r": 118, "t": 30, "b": 6}),
    (366, "<b>EV1</b><br><span>late</span>", {"l": 46, "r": 4, "t": 44, "b": 6}),
    (300, "<b>EV1</b>", {"l": 46, "r": 4, "t": 24, "b": 6}),
])  # fmt: skip
def test_the_heads_of_a_narrow_figure_do_not_overlap(run: Run, width: int, head: str, margin: dict[str, int]) -> None:
    """What does not fit beside the name goes under it, and is left out where a column is narrower than it."""
    script = """const box = {width: given[0], height: 600}, wide = {l: 66, r: 118, t: 30, b: 6};
        const { marginOf, placing, heads } = modules.geometry;
        const margin = marginOf(wide, box, 3), place = placing(box, margin, 3, [0, 100]);
        return [heads([{at: 0, text: "<b>EV1</b>  <span>late</span>"}], box, place)[1].text, margin]"""
    assert run(script, width) == [head, margin]


def test_a_low_figure_shows_less_time(run: Run) -> None:
    """So that its blocks are high enough for words."""
    assert run("return modules.geometry.followed(given[0], 200)", payload(100)) == [64, 154]


def test_a_wall_enlarges_its_least_text_to_the_height_that_is_read_from_3_m(run: Run) -> None:
    """14 px of the figure take 3.7 % of the height."""
    assert run("return 14 * modules.geometry.scaleOf(1000)") == pytest.approx(37)
