"""The end of the sortie under many changes of one record, for each draw.

The ends are those of `expected.expect`. Samples that many changes share are drawn once and cached. The tasks that stay are
placed in one order, whatever is given up or handed over. Where the order of the plan of record contradicts itself there is
no such order, and `Draws.of` gives None.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from dashboard.core.events.change import Change
from dashboard.core.record.lifecycle import IN_WORK, NOT_STARTED
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import SEED
from dashboard.core.schedule.float_or_array import Array
from dashboard.core.schedule.forward import LaneFree, Work, forward
from dashboard.core.schedule.legs import has_legs, leg_durations
from dashboard.core.schedule.lengths import DrawnLengths
from dashboard.core.schedule.network import finished_pet_min, work_to_place
from dashboard.core.schedule.pace import Pace
from dashboard.core.schedule.plan_pace import Projection, Slot
from dashboard.core.schedule.windows import windows_by_kind


class Draws:
    """The draws of one record, with lengths kept from one change to the next."""

    def __init__(
        self, record: Record, projection: Projection, order: list[str], draws: int, pace: Pace,
        paced_at: Mapping[str, Slot],
    ) -> None:
        self.record = record
        self.drawn = DrawnLengths(record, SEED, draws, pace, paced_at)
        self.crew = set(record.plan.crew_lane_ids())
        self.windows = windows_by_kind(record.plan.windows)
        self.first = self.drawn.lane_free_pet_min(projection.lane_free_first)
        self.finished = finished_pet_min(record)
        works = {work.task: work for work in work_to_place(record, projection, self.drawn.held_until_pet_min, self.drawn.way_min)}
        self.works = [works[task_id] for task_id in order]
        self.movable = {
            t for t in order if record.runs[t].task.can_move_to and len(record.runs[t].lanes) == 1
            and record.runs[t].state == NOT_STARTED
        }
        self.has_legs = has_legs(record)
        self._lengths: dict[tuple[str, float | None, tuple[str, ...]], Array] = {}
        self._shortest: dict[tuple[str, float | None], Array] = {}

    @classmethod
    def of(
        cls, record: Record, projection: Projection, draws: int, pace: Pace, paced_at: Mapping[str, Slot]
    ) -> Draws | None:
        """The draws of a record.

        Parameters
        ----------
        record : Record
        projection : Projection
            Of the record.
        draws : int
        pace : Pace
        paced_at : mapping
            Task -> slot that sets the pace of the task (see `expect`).

        Returns
        -------
        Draws or None
            None without draws, or if the order of the plan of record cannot be kept.
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
        """The end of the sortie with a change.

        Parameters
        ----------
        change : Change
            Names every task that goes (see `change.closed`), and does not change the order.
        floating : bool
            Tasks that may be handed over occupy no lane. That is a lower bound of the end over all hand-overs.

        Returns
        -------
        array of shape (draws,) or None
            PET minutes; None when nothing of the crew remains.
        """
        floats = self.movable if floating else set()
        end: Array | None = None
        legs = leg_durations(self.record, (*change.defer, *change.break_off)) if self.has_legs and change.defer else {}

        def length_min(task_id: str) -> Array:
            if task_id in legs:
                return self.drawn.of(self.record.runs[task_id], legs[task_id]).length_min
            return self._length(task_id, change, task_id in floats)

        for placed in forward(
            self._staying(change, floats), length_min,
            now_pet_min=self.drawn.now, lane_free_pet_min=self._lane_free(change),
            finished_pet_min={**self.finished, **dict.fromkeys(change.break_off, self.drawn.now)}, windows=self.windows,
        ):
            if self.crew & set(placed.work.lanes or self.record.runs[placed.work.task].lanes):
                finish = np.asarray(placed.finish_pet_min)
                end = finish if end is None else np.maximum(end, finish)
        return end

    def _staying(self, change: Change, floats: set[str]) -> Iterator[Work]:
        """The work that stays, in the lanes that it then has."""
        out = {*change.defer, *change.break_off}
        for work in self.works:
            if work.task in out:
                continue
            if work.task in floats:
                yield work._replace(lanes=())
            elif work.task in change.move:
                yield work._replace(lanes=(change.move[work.task],))
            else:
                yield work

    def _lane_free(self, change: Change) -> LaneFree:
        """When each lane is free, with the close-outs of what is broken off."""
        free = dict(self.first)
        for task_id in change.break_off:
            run = self.record.runs[task_id]
            until = self.drawn.now + (run.task.closeout or 0.0)
            free.update({lane: np.maximum(free.get(lane, until), until) for lane in run.lanes})
        return free

    def _length(self, task_id: str, change: Change, floats: bool) -> Array:
        run, trimmed = self.record.runs[task_id], change.trim.get(task_id)
        if not floats:
            return self._length_in(task_id, trimmed, (change.move[task_id],) if task_id in change.move else run.lanes)
        key = (task_id, trimmed)
        if key not in self._shortest:
            lengths = [self._length_in(task_id, trimmed, (lane,)) for lane in (*run.lanes, *run.task.can_move_to)]
            self._shortest[key] = np.minimum.reduce(lengths)
        return self._shortest[key]

    def _length_in(self, task_id: str, trimmed_min: float | None, lanes: tuple[str, ...]) -> Array:
        key = (task_id, trimmed_min, lanes)
        if key not in self._lengths:
            changed = replace(self.record.runs[task_id], lanes=lanes)
            if trimmed_min is not None:
                changed = replace(changed, planned_min=trimmed_min, length_set=True, whole_by_estimate_min=None)
            self._lengths[key] = self.drawn.of(changed).length_min
        return self._lengths[key]
