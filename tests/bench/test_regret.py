"""The optimum in hindsight, which regret is measured from."""

from __future__ import annotations

import pytest

from tests.bench.regret import carry_on, flown, hindsight
from tests.scenario import plan_of, task

LIKELY = {"OUT": 30.0, "A": 60.0, "B": 60.0, "C": 60.0, "IN": 30.0}
PLAN = plan_of(
    '[sortie]\nid = "t"\nstart = 2031-04-12T09:10:00Z\nlimit = "4:10"\n[[lane]]\nid = "EV1"\nkind = "crew"\n'
    + task("OUT", "EV1", 0, 30, required=True) + task("A", "EV1", 30, 60, priority=1) + task("B", "EV1", 90, 60, priority=3)
    + task("C", "EV1", 150, 60, priority=2, shortest=30) + task("IN", "EV1", 210, 30, required=True)
)


@pytest.mark.parametrize(("more", "least"), [
    ({}, {}),  # ends at 4:00
    ({"A": 80.0}, {3: 1.0}),  # 10 min late: a trim of C would do, but class 3 goes before class 2
    ({"A": 110.0, "C": 90.0}, {2: 10 / 90, 3: 1.0}),  # 70 min late: without B 10 min, which C of 90 min is trimmed by
])  # fmt: skip
def test_hindsight_gives_up_the_least_that_the_truth_asks_for(more: dict[str, float], least: dict[int, float]) -> None:
    """One lane, worked out by hand; a trim loses value in proportion."""
    found = {priority: lost for priority, lost in hindsight(PLAN, {**LIKELY, **more}).items() if lost}
    assert found == pytest.approx(least)


def test_a_room_that_gives_up_nothing_keeps_all_value_and_comes_in_when_the_truth_lets_it() -> None:
    """In at 4:00, and 10 min past the limit when A takes 20 min longer."""
    early, late = (flown(PLAN, {**LIKELY, "A": a_min}, carry_on, 0) for a_min in (60.0, 80.0))
    assert (early.end, early.in_by, late.in_by) == (pytest.approx(240.0), True, False)
    assert early.value == late.value == {1: 1.0, 2: 3.0, 3: 1.0}
