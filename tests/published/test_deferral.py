"""What is given up and how a lane is re-sequenced, against published answers and an outside solver.

- Moore-Hodgson, five jobs: M. Pinedo, Scheduling, ch. 3; slides at slideplayer.com/amp/4963510. READ: partial sums, due
  dates, and the result (jobs 3, 4, 5 in time, two late).
- Two classes of items and a capacity of 60: constructed, COMPUTED by enumeration.
- Knapsacks: scipy.optimize.milp decides, COMPUTED.
- Job shops: see `jobshops.py`. The two that need more than a second are in `tests/bench/bench_advice.py`.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.advise import Wish, advise
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from tests.published.jobshops import OPTIMA, plan_of_shop

START = "2031-01-01T00:00:00Z"


def first_choice(plan: Plan, **more):
    """The first choice at plan pace, proven."""
    record = reconcile(plan, [], parse_instant(START))
    first = advise(record, basis="plan-pace", choices=1, on_demand=True, **more).proposals[0]
    assert first.proven
    assert first.reached
    return first.figures


def lane_plan(limit: float, tasks: list[dict[str, object]], lanes: list[str]) -> Plan:
    return Plan.model_validate(
        {"sortie": {"id": "s", "start": START, "limit": limit}, "lane": [{"id": n, "kind": "crew"} for n in lanes],
         "task": tasks}
    )


def test_moore_hodgson():
    """Two of five jobs are late, and 3, 4, 5 are in time.

    A due date d under the limit D is a tail of D - d that can be done only after the job and holds a lane of its own; its
    value is nothing, so only jobs count. The briefed order is by due date, as the algorithm has it.
    """
    jobs = {"1": (7, 9), "2": (8, 17), "3": (4, 18), "4": (6, 19), "5": (6, 21)}
    tasks, at = [], 0
    for job, (minutes, due) in jobs.items():
        tasks.append({"id": f"J{job}", "lanes": ["M"], "start": at, "duration": minutes, "priority": 1})
        at += minutes
        tail = {"id": f"D{job}", "lanes": [f"L{job}"], "start": at, "duration": 21 - due, "after": [f"J{job}"], "value": 0}
        tasks.append(tail)
    figures = first_choice(lane_plan(21, tasks, ["M", *(f"L{job}" for job in jobs)]))
    kept = {job for job in jobs if f"J{job}" not in figures.change.defer}
    assert figures.value_lost[1] == 2
    assert kept == {"3", "4", "5"}


def test_the_shorter_of_two_top_tasks_frees_room_for_two_lower_ones():
    """Kept per class 1, 2, 0: b rather than a, then d and e rather than c, and no room for f."""
    items = {"a": (40, 1), "b": (35, 1), "c": (20, 2), "d": (15, 2), "e": (10, 2), "f": (5, 3)}
    tasks = [
        {"id": name, "lanes": ["M"], "start": i, "duration": minutes, "priority": priority}
        for i, (name, (minutes, priority)) in enumerate(items.items())
    ]
    figures = first_choice(lane_plan(60, tasks, ["M"]))
    assert set(items) - set(figures.change.defer) == {"b", "d", "e"}


@pytest.mark.parametrize("seed", range(8))
def test_a_single_lane_is_a_knapsack(seed):
    """Thirty tasks of one class in one lane: the value kept is that of an outside integer program."""
    rng = np.random.default_rng(seed)
    minutes, values = rng.integers(3, 40, 30), rng.integers(1, 20, 30)
    limit = int(minutes.sum() * rng.uniform(0.3, 0.8))
    tasks = [
        {"id": f"T{i:02d}", "lanes": ["M"], "start": i, "duration": int(m), "value": float(v), "priority": 1}
        for i, (m, v) in enumerate(zip(minutes, values, strict=True))
    ]
    outside = milp(-values, constraints=LinearConstraint(minutes[None, :], ub=limit), integrality=1, bounds=Bounds(0, 1))
    figures = first_choice(lane_plan(limit, tasks, ["M"]))
    assert values.sum() - figures.value_lost[1] == pytest.approx(-outside.fun)


@pytest.mark.parametrize("name", ["ft06", "la01"])
def test_a_job_shop_is_re_sequenced_to_its_optimum(name):
    """Nothing is given up, and the earliest end is the published optimum, proven."""
    figures = first_choice(plan_of_shop(name), wish=Wish(resequence=True))
    assert figures.change.count() == 0
    assert figures.end_pet_min == OPTIMA[name]
