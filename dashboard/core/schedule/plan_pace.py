"""The projection at plan pace: when everything that remains starts and ends, its float, and what sets the end.

Serial scheduling along the order of the plan of record, then a backward pass over the same links: the critical path
method, J. E. Kelley, "Critical-path planning and scheduling", Operations Research 9:296 (1961) (reference from
memory), with lanes as links and windows as calendars.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from dashboard.core.plan.model import Window
from dashboard.core.record.lifecycle import BROKEN_OFF, DONE, IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record
from dashboard.core.schedule.waits import Waits

_TINY_MIN = 1e-9


@dataclass
class Slot:
    """Where a remaining task lies in the projection. PET minutes."""

    start_pet_min: float
    finish_pet_min: float
    waits: Waits
    after_task: str | None = None
    window_missed: list[str] = field(default_factory=list)
    float_min: float | None = None
    latest_start_pet_min: float | None = None


@dataclass
class Projection:
    """All remaining tasks placed, and the end of the sortie.

    `end_pet_min` is None when no crew task is done or remains. `sequence` is the order in which tasks were placed,
    `predecessors` what each waits for with lags in minutes, and `lane_free_first` when a lane is free before any
    remaining task is placed (PET minutes; a lane not named is free now).
    """

    slots: dict[str, Slot]
    end_pet_min: float | None
    chain: list[str]
    out_of_turn: list[str]
    sequence: list[str] = field(default_factory=list)
    predecessors: dict[str, list[tuple[str, float]]] = field(default_factory=dict)
    lane_free_first: dict[str, float] = field(default_factory=dict)
    links: dict[str, list[tuple[str, float]]] = field(default_factory=dict)


def remaining_tasks(record: Record) -> list[str]:
    """What remains of the plan of record, in its order; get-aheads only once started, nothing after the end.

    A task that can only be done after a get-ahead that has not started counts as a get-ahead itself.
    """
    if record.end_pet_min is not None:
        return []
    runs = record.runs
    waiting = {t for t, r in runs.items() if r.task.get_ahead and r.state == NOT_STARTED}
    grew = bool(waiting)
    while grew:
        more = {
            t for t, r in runs.items()
            if r.state == NOT_STARTED and t not in waiting and any(needed in waiting for needed in r.task.after)
        }
        waiting |= more
        grew = bool(more)
    return [
        t for t in record.order
        if record.in_plan(t) and t not in waiting and runs[t].state in (NOT_STARTED, IN_WORK, ON_HOLD)
    ]


def project(record: Record) -> Projection:
    """Project the sortie at plan pace, with total float. Latest starts need a limit: see `write_latest_starts`."""
    remaining = remaining_tasks(record)
    scheduler = _Scheduler(record, remaining)
    scheduler.run()
    slots, links = scheduler.slots, scheduler.links
    end, last = _end(record, slots)
    projection = Projection(
        slots, end, _chain(slots, last), scheduler.out_of_turn,
        scheduler.sequence, scheduler.predecessors, scheduler.lane_free_first,
        links,
    )
    if end is not None:
        for task_id, latest in latest_starts(record, projection, end).items():
            if math.isfinite(latest):
                slots[task_id].float_min = max(0.0, latest - slots[task_id].start_pet_min)
    return projection


def write_latest_starts(record: Record, projection: Projection, limit_pet_min: float) -> None:
    """Fill in the latest start of each remaining task that still meets the limit."""
    for task_id, latest in latest_starts(record, projection, limit_pet_min).items():
        if not math.isfinite(latest):
            continue
        slot, run = projection.slots[task_id], record.runs[task_id]
        begun = run.start_pet_min if run.state == IN_WORK else None
        slot.latest_start_pet_min = latest if begun is None else begun + (latest - slot.start_pet_min)


class _Scheduler:
    """Places tasks one by one: the first of the order whose predecessors and lane-mates ahead of it are placed."""

    def __init__(self, record: Record, remaining: Sequence[str]) -> None:
        self.record = record
        self.now = max(0.0, record.pet_min)
        self.remaining = remaining
        self.place = {t: i for i, t in enumerate(remaining)}
        self.slots: dict[str, Slot] = {}
        self.sequence: list[str] = []
        self.links: dict[str, list[tuple[str, float]]] = {t: [] for t in remaining}
        self.out_of_turn: list[str] = []
        self.lane_free: dict[str, tuple[float, str | None]] = {}
        self.lane_free_first: dict[str, float] = {}
        self.predecessors: dict[str, list[tuple[str, float]]] = {}
        self.lane_tail: dict[str, list[str]] = {}
        self.windows = windows_by_kind(record.plan.windows)

    def run(self) -> None:
        self._close_outs()
        self.lane_free_first = {lane: free for lane, (free, _) in self.lane_free.items()}
        for task_id in self.remaining:
            if self.record.runs[task_id].state == IN_WORK:
                self._place(task_id, self.now, Waits(kind="now"), None)
        waiting = [t for t in self.remaining if t not in self.slots]
        predecessors = self.predecessors = {t: self._predecessors(t) for t in waiting}
        blockers = self._blockers(waiting, predecessors)
        dependents: dict[str, list[str]] = {}
        for task_id, blocked_by in blockers.items():
            for other in blocked_by:
                dependents.setdefault(other, []).append(task_id)
        ready = [self.place[t] for t in waiting if not blockers[t]]
        heapq.heapify(ready)
        while len(self.slots) < len(self.remaining):
            if ready:
                task_id = self.remaining[heapq.heappop(ready)]
            else:
                task_id = self._first_that_can(waiting, predecessors)
                self.out_of_turn.append(task_id)
            if task_id in self.slots:
                continue
            self._schedule(task_id, predecessors[task_id])
            for other in dependents.get(task_id, []):
                blockers[other].discard(task_id)
                if not blockers[other] and other not in self.slots:
                    heapq.heappush(ready, self.place[other])

    def _close_outs(self) -> None:
        """A broken-off task keeps its lanes until it is left safe, unless the next one has begun there."""
        for task_id, run in self.record.runs.items():
            until = self.record.close_out_until(run)
            if until is None or until <= self.now or self.record.end_pet_min is not None:
                continue
            for lane in run.lanes:
                begun_since = any(
                    r.start_pet_min is not None and r.start_pet_min >= (run.finish_pet_min or 0.0) and lane in r.lanes
                    for r in self.record.runs.values() if r is not run
                )
                if not begun_since and until > self.lane_free.get(lane, (self.now, None))[0]:
                    self.lane_free[lane] = (until, task_id)

    def _predecessors(self, task_id: str) -> list[tuple[str, float]]:
        """What must be over first, with lags: remaining or finished tasks of the plan of record."""
        run = self.record.runs[task_id]
        found = [(other, 0.0) for other in self.record.blocked_by.get(task_id, [])]
        if run.state == NOT_STARTED:
            found += [(other, 0.0) for other in run.task.after]
            found += [(follow.task, follow.lag) for follow in run.task.follows]
        return [(other, lag) for other, lag in found if self._counts(other)]

    def _counts(self, other: str) -> bool:
        run = self.record.runs.get(other)
        return run is not None and (other in self.place or run.state in (DONE, BROKEN_OFF))

    def _blockers(
        self, waiting: Sequence[str], predecessors: Mapping[str, Sequence[tuple[str, float]]]
    ) -> dict[str, set[str]]:
        previous: dict[str, str] = {}
        blockers: dict[str, set[str]] = {}
        for task_id in waiting:
            blockers[task_id] = {o for o, _ in predecessors[task_id] if o in self.place and o not in self.slots}
            for lane in self.record.runs[task_id].lanes:
                if lane in previous:
                    blockers[task_id].add(previous[lane])
                previous[lane] = task_id
        return blockers

    def _first_that_can(
        self, waiting: Sequence[str], predecessors: Mapping[str, Sequence[tuple[str, float]]]
    ) -> str:
        """Lane order contradicts `after`: the first task whose predecessors are placed goes out of its turn."""
        for task_id in waiting:
            if task_id not in self.slots and all(
                o in self.slots for o, _ in predecessors[task_id] if o in self.place
            ):
                return task_id
        return next(t for t in waiting if t not in self.slots)

    def _schedule(self, task_id: str, predecessors: Sequence[tuple[str, float]]) -> None:
        run = self.record.runs[task_id]
        start, waits, after_task = self.now, Waits(kind="now"), None
        for lane in run.lanes:
            free, by = self.lane_free.get(lane, (self.now, None))
            if free > start + _TINY_MIN:
                start, after_task = free, by if by in self.slots else None
                waits = Waits(kind="lane", name=lane, until_pet_min=free)
        for other, lag in predecessors:
            over = self._over(other)
            if over is not None and over + lag > start - _TINY_MIN and over + lag > self.now:
                start, after_task = over + lag, other if other in self.slots else None
                waits = Waits(kind="task", name=other, until_pet_min=over + lag)
        if run.state == NOT_STARTED and run.task.not_before is not None and run.task.not_before > start + _TINY_MIN:
            start, after_task = run.task.not_before, None
            waits = Waits(kind="not before", until_pet_min=start)
        length = run.remaining_min(self.now)
        placed = self._in_windows(run.task.needs, start, length)
        missed: list[str] = []
        if placed is None:
            missed = self._missed(run.task.needs, start, length)
        elif placed[0] > start + _TINY_MIN:
            start, after_task = placed[0], None
            waits = Waits(kind="window", name=placed[1], until_pet_min=start)
        for other, lag in predecessors:
            if other in self.slots:
                self.links[other].append((task_id, lag))
        self._place(task_id, start, waits, after_task, missed)

    def _over(self, other: str) -> float | None:
        if other in self.slots:
            return self.slots[other].finish_pet_min
        return self.record.runs[other].finish_pet_min

    def _place(
        self, task_id: str, start: float, waits: Waits, after_task: str | None, missed: Sequence[str] = ()
    ) -> None:
        run = self.record.runs[task_id]
        finish = start + run.remaining_min(self.now)
        self.slots[task_id] = Slot(start, finish, waits, after_task, list(missed))
        self.sequence.append(task_id)
        for lane in run.lanes:
            if run.state == IN_WORK:
                self.lane_tail.setdefault(lane, []).append(task_id)
            else:
                for tail in self.lane_tail.get(lane, []):
                    self.links[tail].append((task_id, 0.0))
                self.lane_tail[lane] = [task_id]
            if finish >= self.lane_free.get(lane, (self.now, None))[0]:
                self.lane_free[lane] = (finish, task_id)

    def _in_windows(self, needs: Sequence[str], start: float, length: float) -> tuple[float, str | None] | None:
        """Earliest start from `start` on that lies wholly inside a window of each kind; None: there is none."""
        kind_waited: str | None = None
        moved = True
        while moved:
            moved = False
            for kind in needs:
                fit = next((w for w in self.windows.get(kind, []) if max(start, w.from_) + length <= w.to + _TINY_MIN),
                           None)
                if fit is None:
                    return None
                if fit.from_ > start + _TINY_MIN:
                    start, kind_waited, moved = fit.from_, kind, True
        return start, kind_waited

    def _missed(self, needs: Sequence[str], start: float, length: float) -> list[str]:
        alone = [kind for kind in needs if self._in_windows([kind], start, length) is None]
        return alone or list(needs)


def windows_by_kind(windows: Sequence[Window]) -> dict[str, list[Window]]:
    """Windows a kind, in order of time; windows that touch or overlap count as one."""
    by_kind: dict[str, list[Window]] = {}
    for window in sorted(windows, key=lambda w: (w.kind, w.from_)):
        found = by_kind.setdefault(window.kind, [])
        if found and window.from_ <= found[-1].to + _TINY_MIN:
            found[-1] = found[-1].model_copy(update={"to": max(found[-1].to, window.to)})
        else:
            found.append(window)
    return by_kind


def _end(record: Record, slots: Mapping[str, Slot]) -> tuple[float | None, str | None]:
    """Latest finish over the crew lanes, and the remaining task that sets it (None: it lies in the past).

    Crew work that was still going on when the sortie was closed went on until then.
    """
    crew = set(record.plan.crew_lane_ids())
    end, last = None, None
    for run in record.runs.values():
        over = record.end_pet_min if run.state == IN_WORK else record.over_at(run)
        if crew & set(run.lanes) and over is not None:
            end = over if end is None else max(end, over)
    for task_id, slot in slots.items():
        if crew & set(record.runs[task_id].lanes) and (end is None or slot.finish_pet_min >= end):
            end, last = slot.finish_pet_min, task_id
    return end, last


def latest_starts(record: Record, projection: Projection, goal: float) -> dict[str, float]:
    """Latest start of each remaining task so that the crew is in by `goal`.

    Infinite for a task that no crew task waits for: however late it is, the crew's end does not move.
    """
    windows = windows_by_kind(record.plan.windows)
    crew = set(record.plan.crew_lane_ids())
    latest: dict[str, float] = {}
    for task_id in reversed(projection.sequence):
        slot, run = projection.slots[task_id], record.runs[task_id]
        length = slot.finish_pet_min - slot.start_pet_min
        by = goal if crew & set(run.lanes) else math.inf
        for other, lag in projection.links[task_id]:
            by = min(by, latest[other] - lag)
        start = by - length
        if math.isfinite(start) and run.task.needs and run.state != IN_WORK and not slot.window_missed:
            start = _latest_in_windows(windows, run.task.needs, start, length)
        latest[task_id] = start
    return latest


def _latest_in_windows(
    windows: Mapping[str, Sequence[Window]], needs: Sequence[str], start: float, length: float
) -> float:
    """Latest start up to `start` inside a window of each kind; `start` itself where there is none."""
    best, moved = start, True
    while moved:
        moved = False
        for kind in needs:
            fits = [w for w in windows.get(kind, []) if w.to - w.from_ >= length - _TINY_MIN and w.from_ <= best + _TINY_MIN]
            if not fits:
                return start
            allowed = max(min(best, w.to - length) for w in fits)
            if allowed < best - _TINY_MIN:
                best, moved = allowed, True
    return best


def _chain(slots: Mapping[str, Slot], last: str | None) -> list[str]:
    chain: list[str] = []
    while last is not None and last not in chain:
        chain.append(last)
        last = slots[last].after_task
    return chain[::-1]
