"""What goes at plan pace, found at once."""

from __future__ import annotations

import pytest

from dashboard.core.deferral.cut_at_plan_pace import cut_at_plan_pace
from dashboard.core.record.fold import reconcile
from tests.scenario import plan_of, task

WORK = (
    task("A", "EV1", 0, 200, priority=1) + task("B", "EV1", 200, 100, priority=2) + task("C", "EV1", 300, 60, priority=3)
    + task("HOME", "EV1", 360, 10, required=True)
)


@pytest.mark.parametrize(
    ("more", "gone"),
    [("", set()), (task("X", "EV1", 355, 40, priority=2), {"C"}), (task("X", "EV1", 355, 600, required=True), None)],
    ids=["it fits", "the lowest class goes", "nothing is enough"],
)
def test_what_must_go(more: str, gone: set[str] | None):
    """In by PET 6:30; the highest classes are taken back first."""
    plan = plan_of(WORK + more)
    change = cut_at_plan_pace(reconcile(plan, [], plan.sortie.start))
    assert (None if change is None else set(change.given_up())) == gone


def test_an_option_that_costs_less_is_taken():
    """The short ending makes it fit with nothing given up."""
    ends = task("LONG", "EV1", 355, 60) + task("SHORT", "EV1", 355, 10)
    alternative = '[[alternative]]\nid = "end"\ndefault = "long"\noptions = { long = ["LONG"], short = ["SHORT"] }\n'
    plan = plan_of(WORK + ends + alternative)
    change = cut_at_plan_pace(reconcile(plan, [], plan.sortie.start))
    assert change.choose == {"end": "short"} and change.given_up() == ()
