"""The figures at plan pace that a state and the drift have in common."""

from __future__ import annotations

from datetime import timedelta

import pytest

from dashboard.core.record.fold import reconcile
from dashboard.core.state.follow import state_of
from dashboard.core.state.plan_pace_figures import figures_of, runs_by_lane, standings_of
from tests.bench.states import random_log
from tests.core.sorties import PLAN
from tests.scenario import PET_ZERO, at, log_of, parse_instant, plan_of, task


@pytest.mark.parametrize("seed", range(100, 106))
def test_they_are_those_of_the_state_without_draws(seed: int):
    """Exactly, for a log of every kind of event and a plan with suits."""
    now = PET_ZERO + timedelta(minutes=200)
    record = reconcile(PLAN, random_log(seed), now)
    figures, state = figures_of(record), state_of(record, now, draws=0)
    assert figures.ahead_min == {name: state.lanes[name].ahead_min for name in PLAN.crew_lane_ids()}
    assert (figures.end_pet_min, figures.limit_pet_min) == (state.end.plan_pace_pet_min, state.limit.pet_min)


def test_a_joint_task_is_of_each_of_its_lanes():
    """In the order of the plan; a lane without a task has an empty list, and a standing of its own."""
    plan = plan_of(task("A", "EV1 EV2", 0, 30) + task("B", "EV1", 30, 60))
    record = reconcile(plan, log_of("0:00 clock\n0:00 start A"), parse_instant(at("0:40")))
    runs = runs_by_lane(record)
    assert {name: [run.task.id for run in of_lane] for name, of_lane in runs.items()} == {
        "EV1": ["A", "B"], "EV2": ["A"], "ARM": [],
    }
    assert {name: one.ahead_min for name, one in standings_of(record, runs).items() if name != "ARM"} == {"EV1": -10, "EV2": -10}
