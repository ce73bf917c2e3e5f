"""Legs in the schedule: what goes along with a set of tasks, and the same legs at plan pace and in every draw."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.change import closed, with_change
from dashboard.core.deferral.draws import Draws
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.expected import expect
from dashboard.core.schedule.legs import goes_along, has_legs, leg_durations
from dashboard.core.schedule.pace import learn_pace
from dashboard.core.schedule.plan_pace import project
from tests.core.record.test_legs import ROUTE, SITES, TASKS
from tests.scenario import at, log_of, plan_of, task

PLAN = plan_of(SITES + ROUTE + TASKS)
DRAWS = 400


def record_of(plan=PLAN, log="0:00 clock", pet="0:00"):
    return reconcile(plan, log_of(log), parse_instant(at(pet)))


def test_what_goes_along_is_what_the_record_would_say_with_the_tasks_deferred():
    """For every set of work given up."""
    record, work = record_of(), ("MAST-1", "MAST-2", "BOOM")
    for size in range(4):
        for given_up in combinations(work, size):
            changed = with_change(record, Change(defer=given_up))
            assert goes_along(record, given_up) == set(changed.out_because) - set(given_up), given_up
    assert goes_along(record, work) == {"TO-MAST", "TO-BOOM", "HOME"}


def test_what_if_gives_the_legs_up_with_the_work():
    """The change that is closed names them."""
    assert set(closed(record_of(), Change(defer=("MAST-1", "MAST-2"))).defer) == {"MAST-1", "MAST-2", "TO-MAST"}


def test_the_projection_at_plan_pace_goes_by_the_route():
    """Out 10, route 17 in place of the two legs, 40 at the boom, home 14, in 15."""
    projection = project(record_of(log="0:00 clock\n0:00 defer MAST-1,MAST-2"))
    assert projection.sequence == ["OUT", "TO-BOOM", "BOOM", "HOME", "IN"]
    assert projection.end_pet_min == pytest.approx(10 + 17 + 40 + 14 + 15)
    assert projection.slots["TO-BOOM"].finish_pet_min == pytest.approx(27)


def test_the_way_along_a_route_comes_before_work_whose_leg_was_given_up():
    """At plan pace, and in each draw of a timed plan."""
    timed = TASKS.replace("duration = 40", "duration = [40, 40, 40]").replace('after = ["TO-BOOM"]', "")
    plan = plan_of(SITES + '[[route]]\nfrom = "mast"\nto = "boom"\nduration = [9, 9, 9]\n' + timed)
    record = record_of(plan, "0:00 clock\n0:00 defer TO-BOOM")
    projection = project(record)
    assert projection.slots["BOOM"].start_pet_min == pytest.approx(50 + 9)
    assert projection.chain == ["OUT", "TO-MAST", "MAST-1", "BOOM", "HOME", "IN"]
    assert [projection.slots[t].float_min for t in ("MAST-1", "MAST-2")] == pytest.approx([0, 10])
    expected = expect(record, projection, draws=DRAWS)
    row = {task_id: i for i, task_id in enumerate(expected.tasks)}
    after = np.maximum(expected.finish[row["MAST-1"]], expected.finish[row["MAST-2"]]) + 9
    assert expected.start[row["BOOM"]] == pytest.approx(after)


def test_draws_of_a_change_are_those_of_the_changed_record():
    """Draw by draw, with the legs that go and the route that is taken."""
    record = record_of()
    pace, projection = learn_pace(record), project(record)
    draws = Draws.of(record, projection, DRAWS, pace, projection.slots)
    for given_up in (("MAST-1", "MAST-2"), ("BOOM",), ("MAST-2",)):
        change = closed(record, Change(defer=given_up))
        changed = with_change(record, change)
        expected = expect(changed, project(changed), draws=DRAWS, pace=pace, paced_at=projection.slots)
        assert draws.end(change) == pytest.approx(expected.end), given_up


def test_a_plan_without_legs_has_none():
    """Nothing goes along and no duration differs."""
    record = record_of(plan_of(task("A", "EV1", 0, 30, worksite="mast")))
    assert (has_legs(record), goes_along(record, ("A",)), leg_durations(record, ("A",))) == (False, frozenset(), {})
