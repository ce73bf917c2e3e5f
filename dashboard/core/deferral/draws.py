"""The end of the sortie under many changes of one record, a draw: as `expected.expect` has it, with what repeats kept.

The tasks that stay are placed in one order whatever is given up or handed over, so lengths are drawn once. Where the
order of the plan of record contradicts itself there is no such order, and `Draws.of` gives None.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from dashboard.core.deferral.change import Change
from dashboard.core.record.lifecycle import IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.expected import SEED, Drawing, in_windows
from dashboard.core.schedule.float_or_array import Array
from dashboard.core.schedule.pace import Pace
from dashboard.core.schedule.plan_pace import Projection, Slot

Free = dict[str, Array | float]


class Draws:
    """The draws of one record."""

    def __init__(
        self, record: Record, projection: Projection, order: list[str], draws: int, pace: Pace,
        paced_at: Mapping[str, Slot],
    ) -> None:
        self.record, self.projection, self.order = record, projection, order
        self.drawing = Drawing(record, projection, SEED, draws, pace, paced_at)
        self.crew = set(record.plan.crew_lane_ids())
        self.first = dict(self.drawing.lane_free)
        self.movable = {
            t for t in order if record.runs[t].task.can_move_to and len(record.runs[t].lanes) == 1
            and record.runs[t].state == NOT_STARTED
        }
        self._lengths: dict[tuple[str, float | None, tuple[str, ...]], Array] = {}
        self._shortest: dict[tuple[str, float | None], Array] = {}

    @classmethod
    def of(
        cls, record: Record, projection: Projection, draws: int, pace: Pace, paced_at: Mapping[str, Slot]
    ) -> Draws | None:
        """The draws, with the pace of each task as of `paced_at` (see `expect`).

        None: with no draws, or where the order of the plan of record cannot be kept.
        """
        if not draws or projection.out_of_turn:
            return None
        place = {task_id: i for i, task_id in enumerate(record.order)}
        order = sorted(projection.sequence, key=lambda t: (record.runs[t].state != IN_WORK, place[t]))
        at = {task_id: i for i, task_id in enumerate(order)}
        in_turn = all(
            at[other] < i for i, t in enumerate(order) for other, _ in projection.predecessors.get(t, ()) if other in at
        )
        return cls(record, projection, order, draws, pace, paced_at) if in_turn else None

    def end(self, change: Change, *, floating: bool = False) -> Array | None:
        """The end, PET minutes a draw; None when nothing of the crew remains.

        Parameters
        ----------
        change : Change
            With all that goes along named in it, and the order kept.
        floating : bool
            Tasks that may be handed over take no lane at all: no hand-over does better than that.
        """
        out, free = {*change.defer, *change.break_off}, dict(self.first)
        finish: dict[str, Array] = {}
        for task_id in change.break_off:
            self._close_out(self.record.runs[task_id], free)
        end: Array | None = None
        for task_id in self.order:
            if task_id in out:
                continue
            run = self.record.runs[task_id]
            floats = floating and task_id in self.movable
            lanes = () if floats else (change.move[task_id],) if task_id in change.move else run.lanes
            length = self._shortest_of(run, change) if floats else self._length(run, change.trim.get(task_id), lanes)
            over = finish[task_id] = self._start(run, lanes, free, finish, length) + length
            for lane in lanes:
                earlier = free.get(lane)
                free[lane] = over if earlier is None else np.maximum(earlier, over)
            if self.crew & set(lanes or run.lanes):
                end = over if end is None else np.maximum(end, over)
        return end

    def _start(self, run: TaskRun, lanes: tuple[str, ...], free: Free, finish: dict[str, Array], length: Array) -> Array:
        now = self.drawing.now
        start: Array | float = now
        if run.state == IN_WORK:
            return np.full(length.shape, now)
        for lane in lanes:
            if lane in free:
                start = np.maximum(start, free[lane])
        for other, lag in self.projection.predecessors.get(run.task.id, ()):
            over = finish.get(other)
            if over is not None:
                start = np.maximum(start, over + lag)
            elif other not in self.drawing.row and (done := self.record.runs[other].finish_pet_min) is not None:
                start = np.maximum(start, done + lag)
        if run.state == NOT_STARTED and run.task.not_before is not None:
            start = np.maximum(start, run.task.not_before)
        if run.state == ON_HOLD and not self.record.blocked_by.get(run.task.id) and run.held_by == "task":
            lasted = now - (run.held_since_pet_min or now)
            start = np.maximum(start, now + self.drawing.hold_left(run.task.id, lasted))
        begin: Array = np.broadcast_to(start, length.shape)
        return in_windows(self.drawing.windows, run.task.needs, begin, length) if run.task.needs else begin

    def _close_out(self, run: TaskRun, free: Free) -> None:
        for lane in run.lanes:
            until = self.drawing.now + (run.task.closeout or 0.0)
            free[lane] = np.maximum(free.get(lane, until), until)

    def _length(self, run: TaskRun, trimmed_min: float | None, lanes: tuple[str, ...]) -> Array:
        key = (run.task.id, trimmed_min, lanes)
        if key not in self._lengths:
            changed = replace(run, lanes=lanes)
            if trimmed_min is not None:
                changed = replace(changed, planned_min=trimmed_min, trimmed=True, whole_by_estimate_min=None)
            self._lengths[key] = self.drawing.length(changed)
        return self._lengths[key]

    def _shortest_of(self, run: TaskRun, change: Change) -> Array:
        trimmed = change.trim.get(run.task.id)
        key = (run.task.id, trimmed)
        if key not in self._shortest:
            lengths = [self._length(run, trimmed, (lane,)) for lane in (*run.lanes, *run.task.can_move_to)]
            self._shortest[key] = np.minimum.reduce(lengths)
        return self._shortest[key]
