"""Turn-back time: the latest PET at which a lane can drop everything that may be dropped and still be in by its limit.

Everybody turns back at once, since the crew go in as a pair. Each lane leaves what it has in hand, goes back to the airlock,
and does its required tasks there in the order of the plan of record. The forward pass (`schedule/forward.py`) says when each
lane is in; the turn-back time is the latest time with which that is by the limit. If even now is too late, the turn-back
time lies in the past, by as much as the lane would be late. What must still be done when the crew turns back at T:

- Work in hand now does not count if the projection has it over by T. Else it costs its close-out or what remains of it at T,
  whichever is less; it costs what remains of it where it may not be broken off. The close-out of a task just broken off is
  finished first.
- A required task that has not begun does not count if the projection has it over by T. A required task that is under way at T
  is finished.
- The way home (`way_home.py`: the last tasks of a lane that are required) counts whatever T is, and so does what remains of it
  once it is begun.
- A task that is neither required nor begun is dropped. Once it is begun it counts like other work in hand, so the turn-back
  time may then move earlier.

The turn-back time errs on the early side:

- The way back is the longest of the ways from where the lane is now and from the worksites of its required tasks that have not
  begun. The lane is taken to go out there once more; the way out is not counted, since no plan gives it.
- The plan may hold the way back as a required task. Way and task are then counted once, at the longer of the two. Such a task
  has the activity `way home`, or all of this is so: it is at a worksite with no way back (the airlock); the lane's briefed
  task before it is at a worksite with one; the plan leaves no time for that way between the two; its shortest briefed duration
  is no more than that way. Any other task at the airlock, or without a worksite, is work to be done there, and the way is
  counted besides.
- Waiting for a window or a `not_before` is left out: it passes, whenever the lane turns back.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from dashboard.core.plan.model import Plan
from dashboard.core.record.lifecycle import IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.float_or_array import latest
from dashboard.core.schedule.forward import LaneFree, Work, forward
from dashboard.core.schedule.network import now_of
from dashboard.core.schedule.plan_pace import Projection, Slot
from dashboard.core.suits.way_home import tasks_of_way_home

WAY_HOME = "way home"


def worksite_of(runs: Sequence[TaskRun], current: TaskRun | None) -> str | None:
    """Worksite of a lane.

    Parameters
    ----------
    runs : sequence of TaskRun
        All tasks of the lane.
    current : TaskRun, optional
        Its task in hand.

    Returns
    -------
    str or None
        That of the task in hand, else of the task that was begun last; None: not known.
    """
    if current is not None and current.task.worksite is not None:
        return current.task.worksite
    begun = [r for r in runs if r.start_pet_min is not None and r.task.worksite is not None]
    return max(begun, key=lambda r: r.start_pet_min or 0.0).task.worksite if begun else None


def return_min(plan: Plan, worksite: str | None) -> float | None:
    """Time of the way back from a worksite to the airlock.

    Parameters
    ----------
    plan
        It gives the time for each worksite.
    worksite
        None: the place of the lane is not known.

    Returns
    -------
    float or None
        Minutes; None when the worksite is not known or not in the plan.
    """
    return next((w.return_min for w in plan.worksites if w.id == worksite), None)


def turn_back_pet_min(
    record: Record, projection: Projection, from_here_min: Mapping[str, float | None], limit_pet_min: Mapping[str, float]
) -> dict[str, float]:
    """Turn-back time of each lane, by the rules at the top.

    Parameters
    ----------
    record : Record
    projection : Projection
        At plan pace.
    from_here_min : mapping of str to float or None
        Lane -> minutes from where it is back to the airlock; None: not known, taken as 0.
    limit_pet_min : mapping of str to float
        Lane -> PET minutes by which it must be in. Lanes that are not named get no turn-back time, but joint tasks wait for
        them.

    Returns
    -------
    dict of str to float
        Lane of `limit_pet_min` -> PET minutes.
    """
    back = _Back(record, projection, from_here_min)
    last = max(limit_pet_min.values(), default=0.0)
    times = [back.now, *(time for time in back.breakpoints() if back.now < time < last)]
    in_at = {time: back.in_pet_min(time) for time in times}
    return {lane: _latest(back, lane, limit, times, in_at) for lane, limit in limit_pet_min.items()}


def _latest(
    back: _Back, lane: str, limit: float, times: Sequence[float], in_at: Mapping[float, Mapping[str, float]]
) -> float:
    """The latest turn-back time that is not too late.

    Between breakpoints the time at which a lane is in is non-decreasing in the turn-back time, with a slope of 0 or 1.
    """
    before = -math.inf
    for time in times:
        if time >= limit > back.now:
            break
        over = in_at[time][lane] - limit
        if over > 0:
            return max(before, time - over)
        before = time
    return max(before, limit - (back.in_pet_min(limit)[lane] - limit))


class _InHand(NamedTuple):
    """Work in hand now, as projected. `closeout_min` None: may not be broken off; `home`: it is the way home."""

    lanes: tuple[str, ...]
    start_pet_min: float
    finish_pet_min: float
    closeout_min: float | None
    home: bool

    def left_min(self, at_pet_min: float) -> float:
        """Minutes that must still be done of it when the crew turns back at a PET."""
        whole = self.finish_pet_min - self.start_pet_min
        left = whole if self.home else max(0.0, self.finish_pet_min - max(at_pet_min, self.start_pet_min))
        return left if self.closeout_min is None else min(left, self.closeout_min)


class _Back:
    """When each lane is in if all turn back at some time."""

    def __init__(self, record: Record, projection: Projection, from_here_min: Mapping[str, float | None]) -> None:
        self.record, self.slots = record, projection.slots
        self.now = now_of(record)
        self.free_pet_min = {lane: max(self.now, projection.lane_free_first.get(lane, self.now)) for lane in from_here_min}
        self.home = tasks_of_way_home(record)
        runs = [record.runs[task_id] for task_id in record.order if record.in_plan(task_id)]
        self.in_hand = [self._in_hand(run) for run in runs if run.state in (IN_WORK, ON_HOLD)]
        self.required = [run for run in runs if run.state == NOT_STARTED and run.task.required]
        self.way_min = {
            lane: max(
                [here or 0.0]
                + [return_min(record.plan, run.task.worksite) or 0.0 for run in self.required if lane in run.lanes]
            )
            for lane, here in from_here_min.items()
        }
        self.ways = {
            (run.task.id, lane) for run in self.required for lane in run.lanes if is_way_home(record.plan, run, lane)
        }

    def _in_hand(self, run: TaskRun) -> _InHand:
        slot = self.slots.get(run.task.id)
        start = self.now if slot is None or run.state == IN_WORK else slot.start_pet_min
        finish = start + run.remaining_min(self.record.pet_min)
        droppable = run.task.closeout is not None and not run.task.required
        plan = self.record.plan
        home = run.task.required and (
            return_min(plan, run.task.worksite) == 0.0 or any(is_way_home(plan, run, lane) for lane in run.lanes)
        )
        return _InHand(run.lanes, start, finish, run.task.closeout if droppable else None, home)

    def breakpoints(self) -> list[float]:
        """The times at which what must still be done changes its course, in order."""
        found = set(self.free_pet_min.values())
        for work in self.in_hand:
            found |= {work.start_pet_min, work.finish_pet_min, work.finish_pet_min - (work.closeout_min or 0.0)}
        for run in self.required:
            if (slot := self._passing(run)) is not None:
                found |= {slot.start_pet_min, slot.finish_pet_min}
        return sorted(found)

    def _passing(self, run: TaskRun) -> Slot | None:
        """Slot of a required task that may be over by the turn-back time; None: it counts whatever that is."""
        return None if run.task.id in self.home else self.slots.get(run.task.id)

    def in_pet_min(self, at_pet_min: float) -> dict[str, float]:
        """Lane -> PET minutes at which it is in if all turn back at a PET."""
        lane_free: LaneFree = {
            lane: max(at_pet_min, free) + sum(w.left_min(at_pet_min) for w in self.in_hand if lane in w.lanes)
            for lane, free in self.free_pet_min.items()
        }
        over: dict[str, float] = {}
        still: list[TaskRun] = []
        for run in self.required:
            slot = self._passing(run)
            if slot is None or slot.start_pet_min > at_pet_min:
                still.append(run)
                continue
            over[run.task.id] = slot.finish_pet_min
            lane_free.update({lane: latest((lane_free[lane], slot.finish_pet_min)) for lane in run.lanes})
        work, length_min = self._work(still)
        for _ in forward(
            work, length_min.__getitem__, now_pet_min=at_pet_min, lane_free_pet_min=lane_free, finished_pet_min=over, windows={}
        ):
            pass
        return {lane: float(free) for lane, free in lane_free.items()}

    def _work(self, required: Sequence[TaskRun]) -> tuple[list[Work], dict[str, float]]:
        """What must be done by all lanes, and how long each piece takes: the way back, then the required tasks.

        Where a task is the way back itself, the part of the way that it covers is given back to the lane before it.
        """
        work = [Work(_way_back(lane), (lane,)) for lane in self.way_min]
        length_min = {_way_back(lane): way for lane, way in self.way_min.items()}
        uncovered = dict(self.way_min)
        for run in required:
            task = run.task
            for lane in run.lanes:
                if (task.id, lane) in self.ways:
                    name, covered = f"way back of {lane}, in {task.id}", min(uncovered[lane], run.planned_min)
                    work.append(Work(name, (lane,)))
                    length_min[name] = -covered
                    uncovered[lane] -= covered
            links = [*((other, 0.0) for other in task.after), *((follow.task, follow.lag) for follow in task.follows)]
            work.append(Work(task.id, run.lanes, links))
            length_min[task.id] = run.planned_min
        return work, length_min


def _way_back(lane: str) -> str:
    return f"way back of {lane}"


def is_way_home(plan: Plan, run: TaskRun, lane: str) -> bool:
    """Whether a task is the way back itself, by the rule at the top.

    Parameters
    ----------
    plan : Plan
    run : TaskRun
    lane : str
        The task may be the way back of one of its lanes and not of the other.

    Returns
    -------
    bool
    """
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
