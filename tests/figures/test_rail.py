"""The rail is the whole briefed plan at a fixed scale."""

from __future__ import annotations

from dashboard.figures.rail import rail_payload
from tests.scenario import follow_at, plan_of, task

PLAN = plan_of(
    task("T010", "EV1", 0, 30) + task("T020", "EV1 EV2", 30, 60) + task("T030", "EV2", 90, 40)
    + task("G010", "EV1", None, 20, get_ahead=True)
)
LOG = "0:00 clock\n0:00 start T010\n0:50 done T010\n0:50 start T020\n0:55 defer T030"


def test_boxes_stay_where_they_were_briefed() -> None:
    """However late the work is, the boxes of the rail stand at their briefed places."""
    before = rail_payload(PLAN, follow_at(PLAN, "0:00 clock", "0:00"))
    late = rail_payload(PLAN, follow_at(PLAN, LOG, "3:00"))
    places = [[(b["x"], b["width"], b["y"], b["height"]) for b in rail["boxes"]] for rail in (before, late)]
    assert places[0] == places[1] == [(0, 1, 0.0, 30.0), (0, 2, 30.0, 60.0), (1, 1, 90.0, 40.0)]
    assert (before["top"], before["bottom"]) == (late["top"], late["bottom"])


def test_boxes_look_like_what_became_of_them() -> None:
    """Done, in work and deferred tasks have their own look, as has what is still to come."""
    assert [b["look"] for b in rail_payload(PLAN, follow_at(PLAN, LOG, "1:00"))["boxes"]] == ["done", "work", "out"]
    assert {b["look"] for b in rail_payload(PLAN, follow_at(PLAN, "0:00 clock", "0:00"))["boxes"]} == {"briefed"}


def test_the_room_and_the_limit_are_on_it() -> None:
    """Now and the limit lie on the rail's scale."""
    rail = rail_payload(PLAN, follow_at(PLAN, LOG, "1:00"))
    assert rail["now"] == 60.0 and rail["limit"] == 390.0
    assert rail["top"] <= rail["limit"] <= rail["bottom"]
