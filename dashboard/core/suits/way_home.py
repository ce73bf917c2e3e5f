"""The way home: the last tasks of a lane, which no advice gives up or puts work behind."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from dashboard.core.record.lifecycle import NOT_STARTED
from dashboard.core.record.record import Record


def way_home(record: Record, order: Sequence[str], lanes: Collection[str]) -> int:
    """Where the way home of the lanes begins: their last tasks that are required or lie at a worksite with no way back."""
    at_home = {site.id for site in record.plan.worksites if site.return_min == 0}
    place = len(order)
    for i in range(len(order) - 1, -1, -1):
        run = record.runs[order[i]]
        if not set(lanes) & set(run.lanes) or not record.in_plan(order[i]):
            continue
        if run.state != NOT_STARTED or not (run.task.required or run.task.worksite in at_home):
            if run.task.get_ahead and run.state == NOT_STARTED:
                continue
            break
        place = i
    return place


def tasks_of_way_home(record: Record) -> set[str]:
    """The tasks of the way home of every crew lane."""
    found = set()
    for lane in record.plan.crew_lane_ids():
        begins = way_home(record, record.order, (lane,))
        found |= {t for t in record.order[begins:] if lane in record.runs[t].lanes and not record.runs[t].task.get_ahead}
    return found
