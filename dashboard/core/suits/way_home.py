"""The way home of a lane: its last tasks that are required, or that lie at a worksite with no way back (the airlock).

No advice gives the way home up. With the order in the lanes free it stays last, and a get-ahead goes before it at the latest.
Get-aheads that have not begun and tasks that are out of the plan of record neither belong to it nor end it.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from dashboard.core.record.lifecycle import NOT_STARTED
from dashboard.core.record.record import Record


def way_home(record: Record, order: Sequence[str], lanes: Collection[str]) -> int:
    """Where the way home of some lanes begins.

    Parameters
    ----------
    record : Record
    order : sequence of str
        All tasks of the record, in an order of work.
    lanes : collection of str

    Returns
    -------
    int
        Place in `order` of its first task; the length of `order` when the lanes have no way home.
    """
    at_home = {site.id for site in record.plan.worksites if site.return_min == 0}
    place = len(order)
    for i in range(len(order) - 1, -1, -1):
        run = record.runs[order[i]]
        if not set(lanes) & set(run.lanes) or not record.in_plan(order[i]):
            continue
        if run.state != NOT_STARTED or not (run.task.required or (run.task.leg or run.task.worksite) in at_home):
            if run.task.get_ahead and run.state == NOT_STARTED:
                continue
            break
        place = i
    return place


def tasks_of_way_home(record: Record) -> set[str]:
    """The tasks of the way home of every crew lane.

    Parameters
    ----------
    record : Record

    Returns
    -------
    set of str
    """
    found = set()
    for lane in record.plan.crew_lane_ids():
        begins = way_home(record, record.order, (lane,))
        found |= {
            t for t in record.order[begins:]
            if lane in record.runs[t].lanes and record.in_plan(t) and not record.runs[t].task.get_ahead
        }
    return found
