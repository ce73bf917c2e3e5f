"""A sortie that goes as planned, as its log would tell it."""

from __future__ import annotations

import pytest

from dashboard.core.outlook.as_planned import events_until, record_at, record_with_delay
from dashboard.core.schedule.plan_pace import project
from tests.core.outlook.plans import briefed


@pytest.mark.parametrize(
    ("pet_min", "done", "in_work"),
    [(0.0, "", "T1 T3"), (60.0, "T1 T3 T31", "T2 T32"), (119.0, "T1 T3 T31 T32", "T2"), (130.0, "T1 T2 T3 T31 T32 HOME", "")],
)
def test_every_task_is_where_the_projection_has_it(pet_min: float, done: str, in_work: str):
    """At plan pace, with no discrepancy; the end stays where it was."""
    one = briefed()
    record = record_at(one, pet_min)
    states = {name: run.state for name, run in record.runs.items()}
    expected = dict.fromkeys(done.split(), "done") | dict.fromkeys(in_work.split(), "in work")
    assert states == dict.fromkeys(states, "not started") | expected
    assert record.discrepancies == [] and len(events_until(one.plan, one.projection, pet_min)) == sum(
        {"in work": 1, "done": 2}.get(state, 0) for state in states.values()
    )


def test_a_task_that_begins_late_leaves_the_rest_as_planned():
    """T2 begins 40 min late; what EV2 does is done meanwhile, and the way home waits for T2."""
    record = record_with_delay(briefed(), "T2", start_pet_min=100.0, seen_pet_min=90.0)
    assert {name for name, run in record.runs.items() if run.state == "done"} == {"T1", "T3", "T31"}
    slots = project(record).slots
    assert slots["T2"].start_pet_min == 100.0 and slots["HOME"].start_pet_min == pytest.approx(160.0)
