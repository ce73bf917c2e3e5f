"""The worksites of the state: by when each must have been left, and when it is projected to be."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.plan_pace import Projection
from dashboard.core.state.model import (
    WorksiteState,
)
from dashboard.core.suits.turn_back import WayBack


def worksite_states(
    record: Record, projection: Projection, way_back: WayBack, home: Collection[str], out: Collection[str],
    p50_pet_min: Mapping[str, float],
) -> dict[str, WorksiteState]:
    """The worksites that the crew is at or has work to do at, and by when they must have been left.

    Parameters
    ----------
    record : Record
    projection : Projection
        At plan pace.
    way_back : WayBack
    home : collection of str
        Tasks of the way home.
    out : collection of str
        Crew lanes that are out.
    p50_pet_min : mapping of str to float
        Median finish of each task that was drawn; the others end at plan pace.

    Returns
    -------
    dict of str to WorksiteState
        By worksite.
    """
    work: dict[str, list[TaskRun]] = {}
    for task_id in projection.slots:
        run = record.runs[task_id]
        place = run.task.leg or run.task.worksite
        if place is not None and task_id not in home and not run.task.get_ahead and set(out) & set(run.lanes):
            work.setdefault(place, []).append(run)
    for lane in out:
        if (here := way_back.here[lane].worksite) is not None:
            work.setdefault(here, [])
    found = {}
    for site in record.plan.worksites:
        if site.id not in work or (site.leave_by is None and site.return_min == 0):
            continue
        by_way = way_back.leave_by(site.id)
        given = [] if site.leave_by is None else [(site.leave_by, "the plan")]
        back = [] if by_way is None else [(by_way.pet_min, f"the way back, by {by_way.set_by}")]
        leave_by, set_by = min([*given, *back], default=(None, None))
        ends = {run.task.id: p50_pet_min.get(run.task.id, projection.slots[run.task.id].finish_pet_min) for run in work[site.id]}
        last = max(ends, key=lambda task_id: ends[task_id], default=None)
        found[site.id] = WorksiteState(
            return_min=site.return_min,
            leave_by_pet_min=leave_by,
            leave_by_set_by=set_by,
            leaves_pet_min=None if last is None else ends[last],
            last_task=last,
        )
    return found
