"""Turn-back time: the latest PET at which a lane can drop everything that may be dropped and still be in.

It is the latest PET T for which this holds: turned back at T, the lane does what must still be done then, and is in by the
limit. Everybody turns back at once, since the crew go in as a pair. Each lane leaves what it has in hand, goes back to the
airlock, and does its required tasks in the order of the plan of record; a joint task waits for its last lane, and a
task for the required ones it comes after, with lags. What must still be done at T:

- Of the work in hand now, what the projection has over by T does not count. What it does not have over by then costs its
  close-out or what remains of it at T, whichever is less, where it may be broken off; else what remains of it. The
  close-out of a task just broken off is finished first.
- Of the required tasks not begun, what the projection has over by T does not count; what is under way at T is finished.
  The way home (`way_home.py`: the last tasks of a lane that are required) counts whenever T is, and so does what remains
  of it once it is begun.
- A task that is not required and not begun does not count: at T it is dropped. One that may not be broken off moves the
  time when it is begun, if it cannot be over by then.

If it cannot be done even now, the time lies in the past, by as much as the lane would be late.
Where the rules leave a doubt they err on the early side:

- The way back is the longest of the ways from where the lane is now and from the worksites of the required tasks it still
  has to do: it is taken to go out there once more, and the way out is not counted, since no plan gives it.
- The plan may hold the way back as a required task. Then way and task are counted once, at the longer of the two. Such a
  task is told by its activity, `way home`; or else by this: it is at a worksite with no way back (the airlock), the
  lane's briefed task before it is at a worksite with one, the plan leaves no time for that way between the two, and the
  shortest briefed duration is no more than that way. Any other task at the airlock, or without a worksite, is work to be
  done there, and the way is counted besides.
- Waiting for a window or a `not_before` is left out: it passes, whenever the lane turns back.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from dashboard.core.plan.model import Plan
from dashboard.core.record.lifecycle import IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.plan_pace import Projection, Slot
from dashboard.core.suits.way_home import tasks_of_way_home

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


def turn_back_pet_min(
    record: Record, projection: Projection, from_here_min: Mapping[str, float | None], limit_pet_min: Mapping[str, float]
) -> dict[str, float]:
    """Turn-back time of each lane, PET minutes, by the rules at the top.

    Parameters
    ----------
    record : Record
    projection : Projection
        At plan pace.
    from_here_min : mapping
        Lane -> minutes from where it is back to the airlock; None: not known, taken as 0.
    limit_pet_min : mapping
        Lane -> PET by which it must be in; lanes not named are not asked about, but joint tasks wait for them.
    """
    back = _Back(record, projection, from_here_min)
    latest = max(limit_pet_min.values(), default=0.0)
    times = [back.now, *(time for time in back.bends() if back.now < time < latest)]
    in_at = {time: back.in_pet_min(time) for time in times}
    return {lane: _latest(back, lane, limit, times, in_at) for lane, limit in limit_pet_min.items()}


def _latest(
    back: _Back, lane: str, limit: float, times: Sequence[float], in_at: Mapping[float, Mapping[str, float]]
) -> float:
    """The latest time that is not too late. Between two bends the time in rises with the time of turning back, or stands."""
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
        """What must still be done of it, turned back then."""
        whole = self.finish_pet_min - self.start_pet_min
        left = whole if self.home else max(0.0, self.finish_pet_min - max(at_pet_min, self.start_pet_min))
        return left if self.closeout_min is None else min(left, self.closeout_min)


class _Back:
    """When each lane is in, were all to turn back at some time."""

    def __init__(self, record: Record, projection: Projection, from_here_min: Mapping[str, float | None]) -> None:
        self.record, self.slots = record, projection.slots
        self.now = max(0.0, record.pet_min)
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

    def bends(self) -> list[float]:
        """The times at which what must still be done changes its course, in order."""
        found = set(self.free_pet_min.values())
        for work in self.in_hand:
            found |= {work.start_pet_min, work.finish_pet_min, work.finish_pet_min - (work.closeout_min or 0.0)}
        for run in self.required:
            if (slot := self._passing(run)) is not None:
                found |= {slot.start_pet_min, slot.finish_pet_min}
        return sorted(found)

    def _passing(self, run: TaskRun) -> Slot | None:
        """Where a required task lies that may be over by the time; None: it counts whenever that is."""
        return None if run.task.id in self.home else self.slots.get(run.task.id)

    def in_pet_min(self, at_pet_min: float) -> dict[str, float]:
        """Lane -> PET at which it is in, were all to turn back at a PET."""
        plan, way = self.record.plan, dict(self.way_min)
        at = {
            lane: max(at_pet_min, free) + sum(w.left_min(at_pet_min) for w in self.in_hand if lane in w.lanes) + way[lane]
            for lane, free in self.free_pet_min.items()
        }
        over: dict[str, float] = {}
        for run in self.required:
            slot = self._passing(run)
            if slot is not None and slot.start_pet_min <= at_pet_min:
                over[run.task.id] = slot.finish_pet_min
                at.update({lane: max(at[lane], slot.finish_pet_min + way[lane]) for lane in run.lanes})
                continue
            ready = [over[other] for other in run.task.after if other in over]
            ready += [over[follow.task] + follow.lag for follow in run.task.follows if follow.task in over]
            for lane in run.lanes:
                counted = min(way[lane], run.planned_min) if is_way_home(plan, run, lane) else 0.0
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
