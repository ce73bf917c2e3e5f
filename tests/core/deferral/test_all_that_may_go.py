"""All that may be given up, and nothing else."""

from __future__ import annotations

from dashboard.core.deferral.all_that_may_go import all_that_may_go
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project
from tests.scenario import plan_of, task


def test_required_work_and_the_way_home_stay():
    """What may be deferred goes, also what comes after it; what may only be trimmed is trimmed to its shortest."""
    plan = plan_of(
        task("A", "EV1", 0, 30) + task("B", "EV1", 30, 30, after=["A"]) + task("R", "EV2", 0, 30, required=True)
        + task("HOME", "EV1 EV2", 60, 10, required=True)
    )
    record = reconcile(plan, [], plan.sortie.start)
    change = all_that_may_go(record, project(record))
    assert set(change.defer) == {"A", "B"} and not change.trim
