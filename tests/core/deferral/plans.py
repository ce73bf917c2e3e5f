"""Small random plans, and the optimum of each by trying every subset."""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable

from dashboard.core.deferral.change import Change, value_lost, with_change
from dashboard.core.expected import expect
from dashboard.core.plan import Plan
from dashboard.core.projection import project
from dashboard.core.record import Record

START = "2031-01-01T00:00:00Z"
CLASSES = (1, 2, 3)


def random_plan(seed: int, *, trims: bool) -> Plan:
    """Four to seven tasks over two crew lanes and the arm, with joint tasks, `after` and `follows`, and a tight limit."""
    dice = random.Random(seed)
    free = {"EV1": 0, "EV2": 0, "ARM": 0}
    tasks: list[dict] = []
    for i in range(dice.randint(4, 7)):
        lanes = dice.choice([["EV1"], ["EV2"], ["EV1", "EV2"], ["EV1", "ARM"], ["ARM"]])
        start, minutes = max(free[lane] for lane in lanes), dice.randint(5, 30)
        task = {"id": f"T{i}", "lanes": lanes, "duration": minutes, "priority": dice.choice(CLASSES),
                "value": dice.choice([0.5, 1, 1, 2]), "required": dice.random() < 0.15, "after": [], "follows": []}
        if tasks and dice.random() < 0.4:
            key, lag = dice.choice([("after", 0), ("follows", dice.randint(0, 5))])
            other = dice.choice(tasks)
            start = max(start, other["start"] + other["duration"] + lag)
            task[key] = [other["id"]] if key == "after" else [{"task": other["id"], "lag": lag}]
        if trims and dice.random() < 0.5:
            task["shortest"] = max(1, minutes - dice.randint(1, 6))
        task["start"] = start
        tasks.append(task)
        for lane in lanes:
            free[lane] = start + minutes
    limit = max(1, int(max(free["EV1"], free["EV2"], 10) * dice.uniform(0.4, 0.95)))
    kinds = {"EV1": "crew", "EV2": "crew", "ARM": "arm"}
    return Plan.model_validate(
        {"sortie": {"id": "s", "start": START, "limit": limit},
         "lane": [{"id": name, "kind": kind} for name, kind in kinds.items()], "task": tasks}
    )


def uncertain(plan: Plan, seed: int) -> Plan:
    """The plan with three-point durations about its likely ones, and a daylight window that some tasks need."""
    dice = random.Random(seed)
    table = plan.model_dump(mode="json", by_alias=True, exclude_none=True)
    for task in table["task"]:
        likely = task["duration"]["likely"]
        task["duration"] = [round(likely * 0.8, 1), likely, round(likely * dice.uniform(1.2, 1.9), 1)]
        if dice.random() < 0.2:
            task["needs"] = ["daylight"]
    limit = table["sortie"]["limit"]
    table["window"] = [{"kind": "daylight", "from": 0, "to": round(limit * 0.6)},
                       {"kind": "daylight", "from": round(limit * 0.75), "to": 400}]
    return Plan.model_validate(table)


def rank(record: Record, change: Change, end: float | None) -> tuple[float, ...]:
    """Value lost by class, then changes, then end: smaller is better."""
    lost = value_lost(record, change)
    return (*(round(lost.get(c, 0.0), 4) for c in CLASSES), change.count(), round(end or 0.0, 4))


def at_plan_pace(record: Record, change: Change) -> bool:
    """In by the limit on likely durations."""
    return (project(with_change(record, change)).end_pet_min or 0.0) <= record.plan.sortie.limit + 1e-9


def drawn(confidence: float, draws: int) -> Callable[[Record, Change], bool]:
    """In by the limit in so great a share of draws, no task pushed past its windows."""

    def holds(record: Record, change: Change) -> bool:
        changed = with_change(record, change)
        projection, before = project(changed), project(record)
        if any(s.window_missed and not before.slots[t].window_missed for t, s in projection.slots.items()):
            return False
        expected = expect(changed, projection, draws=draws)
        if expected is None:
            return at_plan_pace(record, change)
        return float((expected.end <= record.plan.sortie.limit).mean()) >= confidence

    return holds


def best_by_trying_all(
    record: Record, holds: Callable[[Record, Change], bool] = at_plan_pace
) -> tuple[float, ...] | None:
    """The rank of the best change that holds; None when there is none. Trims in whole minutes."""
    runs = record.runs
    givable = [t for t, run in runs.items() if not run.task.required]
    best = None
    for deferred in itertools.chain.from_iterable(
        itertools.combinations(givable, k) for k in range(len(givable) + 1)
    ):
        kept = [t for t in runs if t not in deferred]
        if any(needed in deferred for t in kept for needed in runs[t].task.after):
            continue
        cuttable = [t for t in kept if runs[t].task.shortest is not None and not runs[t].task.required]
        for lengths in itertools.product(
            *(range(int(runs[t].task.shortest or 0), int(runs[t].task.likely_min) + 1) for t in cuttable)
        ):
            trims = {t: float(m) for t, m in zip(cuttable, lengths, strict=True) if m < runs[t].task.likely_min}
            change = Change(deferred, trims)
            found = rank(record, change, project(with_change(record, change)).end_pet_min)
            if (best is None or found < best) and holds(record, change):
                best = found
    return best
