"""The quick draws of a change are those of the expected projection of the record with that change."""

from __future__ import annotations

from dashboard.core.deferral.change import closed, with_change
from dashboard.core.deferral.draws import Draws
from dashboard.core.events.change import Change
from dashboard.core.record.lifecycle import IN_WORK, ON_HOLD
from dashboard.core.schedule.expected import expect
from dashboard.core.schedule.pace import learn_pace
from dashboard.core.schedule.plan_pace import project
from tests.core.deferral.plans import random_plan, with_holds


def test_the_draws_of_work_broken_off_are_those_of_the_projection():
    """Close-outs, holds, and the lag after what is broken off included, to the last bit."""
    compared = after_a_lag = 0
    for seed in range(80):
        record = with_holds(random_plan(seed, trims=False), seed)
        projection, pace = project(record), learn_pace(record)
        draws = Draws.of(record, projection, 100, pace, projection.slots)
        if draws is None:
            continue
        for task_id, run in record.runs.items():
            if run.state not in (IN_WORK, ON_HOLD) or run.task.closeout is None:
                continue
            change = closed(record, Change(break_off=(task_id,)))
            changed = with_change(record, change)
            expected = expect(changed, project(changed), draws=100, pace=pace, paced_at=projection.slots)
            ours = draws.end(change)
            assert (expected is None) == (ours is None), (seed, task_id)
            if expected is not None:
                assert (expected.end == ours).all(), (seed, task_id)
                compared += 1
                staying = set(project(changed).sequence)
                after_a_lag += any(f.task == task_id and f.lag for t in staying for f in record.runs[t].task.follows)
    assert compared > 40
    assert after_a_lag > 2
