"""Turn-back time: the latest PET at which a lane can drop everything that may be dropped and still be in.

Everybody turns back at once, since the crew go in as a pair. Each lane leaves what it has in hand, goes back to the
airlock, and does its required tasks in the order of the plan of record; a joint task waits for its last lane, and a
task for the required ones it comes after, with lags. Where the rules below leave a doubt they err on the early side.

- Work in hand that may be broken off costs its close-out or what remains of it, whichever is less; other work in hand
  what remains of it. The close-out of a task just broken off is finished first.
- The way back is the longest of the ways from where the lane is and from the worksites of the required tasks it still
  has to do: it is taken to go out there once more, and the way out is not counted, since no plan gives it.
- The plan may hold the way back as a required task. Then way and task are counted once, at the longer of the two. Such a
  task is told by its activity, `way home`; or else by this: it is at a worksite with no way back (the airlock), the
  lane's briefed task before it is at a worksite with one, the plan leaves no time for that way between the two, and the
  shortest briefed duration is no more than that way. Any other task at the airlock, or without a worksite, is work to be
  done there, and the way is counted besides.
- Waiting for a window or a `not_before` is left out: it passes, whenever the lane turns back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from dashboard.core.lifecycle import IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.plan import Plan
from dashboard.core.record import Record, TaskRun

WAY_HOME = "way home"


def worksite_of(runs: Sequence[TaskRun], current: TaskRun | None) -> str | None:
    """Worksite of the task in hand, else of the task that was begun last; None: not known."""
    if current is not None and current.task.worksite is not None:
        return current.task.worksite
    begun = [r for r in runs if r.start_pet_min is not None and r.task.worksite is not None]
    return max(begun, key=lambda r: r.start_pet_min or 0.0).task.worksite if begun else None


def return_min(plan: Plan, worksite: str | None) -> float | None:
    """Minutes from a worksite to the airlock; None: the plan does not say."""
    return next((w.return_min for w in plan.worksites if w.id == worksite), None)


def minutes_to_be_in(
    record: Record, from_here_min: Mapping[str, float | None], lane_free_pet_min: Mapping[str, float]
) -> dict[str, float]:
    """Least minutes from now until each lane can be in, were everything dropped now that may be dropped.

    Parameters
    ----------
    record : Record
    from_here_min : mapping
        Lane -> minutes from where it is back to the airlock; None: not known, taken as 0.
    lane_free_pet_min : mapping
        Lane -> PET until which a close-out keeps it (`Projection.lane_free_first`); a lane not named is free.
    """
    now = max(0.0, record.pet_min)
    required = [
        run for task_id in record.order
        if (run := record.runs[task_id]).state == NOT_STARTED and run.task.required and record.in_plan(task_id)
    ]
    sites = {lane: [r.task.worksite for r in required if lane in r.lanes] for lane in from_here_min}
    way = {
        lane: max([here or 0.0, *(return_min(record.plan, site) or 0.0 for site in sites[lane])])
        for lane, here in from_here_min.items()
    }
    at = {
        lane: max(0.0, lane_free_pet_min.get(lane, now) - now) + _left_in_hand_min(record, lane) + way[lane]
        for lane in from_here_min
    }
    over: dict[str, float] = {}
    for run in required:
        ready = [over[other] for other in run.task.after if other in over]
        ready += [over[follow.task] + follow.lag for follow in run.task.follows if follow.task in over]
        for lane in run.lanes:
            counted = min(way[lane], run.planned_min) if is_way_home(record.plan, run, lane) else 0.0
            way[lane] -= counted
            ready.append(at[lane] - counted)
        over[run.task.id] = max(ready) + run.planned_min
        at.update(dict.fromkeys(run.lanes, over[run.task.id]))
    return at


def is_way_home(plan: Plan, run: TaskRun, lane: str) -> bool:
    """Whether a task is the way back itself: see the rule at the top."""
    if run.task.activity == WAY_HOME:
        return True
    start = run.task.start
    if start is None or return_min(plan, run.task.worksite) != 0.0:
        return False
    before = [t for t in plan.tasks if lane in t.lanes and t.start is not None and t.start < start]
    last = max(before, key=lambda t: t.start or 0.0, default=None)
    way = return_min(plan, last.worksite) if last is not None else None
    if last is None or not way:
        return False
    between = start - ((last.start or 0.0) + last.likely_min)
    return between < way and run.task.duration.low <= way


def _left_in_hand_min(record: Record, lane: str) -> float:
    total = 0.0
    for run in record.runs.values():
        if lane in run.lanes and run.state in (IN_WORK, ON_HOLD) and record.in_plan(run.task.id):
            droppable = run.task.closeout is not None and not run.task.required
            left = run.remaining_min(record.pet_min)
            total += min(left, run.task.closeout or 0.0) if droppable else left
    return total
