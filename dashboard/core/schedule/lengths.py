"""How long what remains of each task takes: at plan pace, and in each draw of the expected projection.

Rules of the draws:

- A task that has not begun: its briefed three-point duration, or a spread about its single value, with the extra scatter of
  the draw, times the learned pace (`pace.py`) at the middle of its plan-pace slot. A timed wait has no pace.
- A boxed stop: its set length or its standing trim, and an overrun of its own (`boxed.py`).
- A task in work or on hold: what remains given what was worked (`durations.remaining_draws`).
- A standing estimate takes precedence over both. What remained when it was made has a distribution of its own. What remains
  now is drawn given the work since (`durations.estimate_draws`), also when the estimate is used up and the task goes on. At
  plan pace an estimate runs down to nothing; in the draws it never does.
- A hold without a known end lasts, from now, an exponential time whose mean is what it has lasted so far, at least
  `LEAST_HOLD_MIN`. At plan pace it ends now. A hold for an inserted contingency ends with the contingency's tasks.

A single value for a duration says that no range was briefed. Three equal values say that a task is timed: it does not
scatter and has no pace. `Duration.exact` tells the two apart.

A leg that starts from elsewhere than briefed takes its new way (`legs.py`), in both.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import NamedTuple, Protocol

import numpy as np

from dashboard.core.plan.model import Duration
from dashboard.core.record.lifecycle import NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.boxed import boxed_draws, learn_overrun
from dashboard.core.schedule.constants import value
from dashboard.core.schedule.durations import (
    estimate_draws,
    fresh_draws,
    mixed_draws,
    remaining_draws,
    stuck_factor,
    uniforms,
)
from dashboard.core.schedule.float_or_array import Array, FloatOrArray
from dashboard.core.schedule.legs import ways_of
from dashboard.core.schedule.network import now_of
from dashboard.core.schedule.pace import HANDS, LEG, Pace, kind_of_work

LEAST_HOLD_MIN = value("LEAST_HOLD_MIN")


class StartAndFinish(Protocol):
    """Where a task lies in a projection at plan pace. PET minutes."""

    @property
    def start_pet_min(self) -> float: ...

    @property
    def finish_pet_min(self) -> float: ...


class Drawn(NamedTuple):
    """Length of what remains of a task: minutes that no pace scales, and the pace factor (None: no pace applies).

    Both are arrays of shape (draws,). No pace applies to estimates, boxed stops and timed waits.
    """

    own_min: Array
    pace: Array | None

    @property
    def length_min(self) -> Array:
        """Minutes of work left in each draw."""
        return self.own_min if self.pace is None else self.own_min * self.pace


class AtPlanPace(NamedTuple):
    """How long what remains takes at plan pace.

    Parameters
    ----------
    length_min : callable
        Task -> minutes of work left: its standing estimate less work since, else its planned length less work done, and
        never below zero. A leg that starts from elsewhere than briefed takes the likely length of its new way.
    way_min : callable
        Task -> minutes of the route that its lanes take to it; None: a leg takes them there, or the brief holds the way.
    """

    length_min: Callable[[str], float]
    way_min: Callable[[str], float | None]


def at_plan_pace(record: Record) -> AtPlanPace:
    """Lengths of what remains, and ways to it, at plan pace.

    Parameters
    ----------
    record : Record

    Returns
    -------
    AtPlanPace
    """
    now, ways = now_of(record), ways_of(record, record.out_because)
    legs, routes = ways.durations, ways.to_work
    return AtPlanPace(
        lambda task_id: legs[task_id].likely if task_id in legs else record.runs[task_id].remaining_min(now),
        lambda task_id: routes[task_id].likely if task_id in routes else None,
    )


def hold_mean_min(lasted_min: float) -> float:
    """Mean time that a hold without a known end still lasts.

    Parameters
    ----------
    lasted_min
        Minutes that it has lasted.

    Returns
    -------
    float
        Minutes: as long again, and at least `LEAST_HOLD_MIN`.
    """
    return max(LEAST_HOLD_MIN, lasted_min)


class DrawnLengths:
    """Lengths and holds of one record in each draw.

    Parameters
    ----------
    record : Record
    seed, draws : int
        The same seed gives the same answer.
    pace : Pace
    slots : mapping of str to StartAndFinish
        Where each task lies at plan pace: its pace is that of the middle of its slot. A task that is not named is taken at
        its briefed time.
    """

    def __init__(self, record: Record, seed: int, draws: int, pace: Pace, slots: Mapping[str, StartAndFinish]) -> None:
        self.record, self.seed, self.draws, self.pace, self.slots = record, seed, draws, pace, slots
        self.now = now_of(record)
        self._crew = set(record.plan.crew_lane_ids())
        self._blocks = pace.blocks(draws)
        self._shifting = pace.shifting(draws)
        self._terms = pace.draws(seed, draws)
        self._steady: dict[tuple[tuple[str, ...], str], Array] = {}
        self._shift: dict[int, Array] = {}
        self._overrun = learn_overrun(record)
        self._ways = ways_of(record, record.out_because)

    def of(self, run: TaskRun, leg_duration: Duration | None = None) -> Drawn:
        """Length of what remains of a task, at the pace of the lanes that `run` names.

        Parameters
        ----------
        run : TaskRun
            Of this record, or changed: in other lanes, or of another length.
        leg_duration : Duration, optional
            Of a leg that a change of the record makes start from elsewhere. By default as in this record.

        Returns
        -------
        Drawn
        """
        name = run.task.id
        duration = leg_duration or self._ways.durations.get(name) or _scaled(run)
        if run.state != NOT_STARTED and run.whole_by_estimate_min is not None:
            since = run.worked_min(self.now) - run.worked_at_estimate_min
            estimate = run.whole_by_estimate_min - run.worked_at_estimate_min
            return Drawn(estimate_draws(estimate, since, uniforms(self.seed, name, self.draws)), None)
        if run.task.boxed:
            stood = 0.0 if run.state == NOT_STARTED else run.worked_min(self.now)
            return Drawn(boxed_draws(run.planned_min, stood, self._overrun, uniforms(self.seed, name, self.draws)), None)
        if duration.exact:
            return Drawn(self._of_wait(run, duration), None)
        pace = self._pace_of(run)
        if run.state == NOT_STARTED:
            return Drawn(mixed_draws(duration, self.seed, name, self.draws, self._blocks), pace)
        worked, uniform = run.worked_min(self.now) / pace, uniforms(self.seed, name, self.draws)
        luck = uniforms(self.seed, f"{name} sticks", self.draws)
        parts = []
        for a, b, extra, stick in self._blocks:
            stuck = stuck_factor(duration, worked[a:b], luck[a:b], extra, stick)
            parts.append(stuck * remaining_draws(duration, worked[a:b] / stuck, uniform[a:b], extra))
        return Drawn(np.concatenate(parts), pace)

    def way_min(self, task_id: str) -> Array | None:
        """Minutes of the route that the lanes of a task take to it in each draw.

        Parameters
        ----------
        task_id
            A task that remains.

        Returns
        -------
        array of shape (draws,) or None
            None: a leg takes them there, or the brief holds the way.
        """
        route = self._ways.to_work.get(task_id)
        return None if route is None else fresh_draws(route, self.seed, f"way to {task_id}", self.draws)

    def lane_free_pet_min(self, without_holds_pet_min: Mapping[str, float]) -> dict[str, FloatOrArray]:
        """When each lane is free before any remaining task is placed, with the holds of lanes drawn.

        Parameters
        ----------
        without_holds_pet_min : mapping of str to float
            The same at plan pace; a lane not named is free now.

        Returns
        -------
        dict of str to float or array of shape (draws,)
        """
        lane_free: dict[str, FloatOrArray] = dict(without_holds_pet_min)
        for lane in self.record.held_lanes:
            lasted = self.now - self.record.held_since.get(lane, self.now)
            until = self.now + self._hold_left(f"lane {lane}", lasted)
            lane_free[lane] = np.maximum(lane_free.get(lane, self.now), until)
        return lane_free

    def held_until_pet_min(self, run: TaskRun) -> Array | None:
        """PET minutes at which a task's own hold ends in each draw; None: it has none of its own, or it ends with other tasks.

        Parameters
        ----------
        run
            A task of the record, or a changed copy of it.

        Returns
        -------
        array of shape (draws,) or None
            PET minutes, after now.
        """
        if run.state != ON_HOLD or self.record.blocked_by.get(run.task.id) or run.held_by != "task":
            return None
        until: Array = self.now + self._hold_left(run.task.id, self.now - (run.held_since_pet_min or self.now))
        return until

    def common_pace_log(self, slots: Mapping[str, StartAndFinish]) -> Array:
        """Logarithm of the pace, averaged over the crew's tasks by their length at plan pace.

        Parameters
        ----------
        slots : mapping of str to StartAndFinish
            Where each remaining task lies.

        Returns
        -------
        array of shape (draws,)
        """
        first = self.pace.first_shift
        weights = np.zeros(len(self._terms))
        total = 0.0
        for task_id, slot in slots.items():
            run = self.record.runs[task_id]
            work = kind_of_work(run.task, run.lanes, self._crew)
            if work in (HANDS, LEG):
                length = max(slot.finish_pet_min - slot.start_pet_min, 1e-3)
                weights += length * self.pace.row(run.lanes, work)
                total += length
            if work == HANDS:
                before, towards = self.pace.shift_at((slot.start_pet_min + slot.finish_pet_min) / 2)
                weights[first + before : first + before + 2] += length * np.array((1.0 - towards, towards))
        common: Array = weights @ self._terms / max(total, 1e-3)
        return common

    def _hold_left(self, name: str, lasted_min: float) -> Array:
        """Minutes that a hold without a known end still lasts in each draw."""
        left: Array = -hold_mean_min(lasted_min) * np.log(uniforms(self.seed, f"hold of {name}", self.draws))
        return left

    def _of_wait(self, run: TaskRun, duration: Duration) -> Array:
        """Minutes left of a timed wait; one in work may overrun all the same."""
        if run.state == NOT_STARTED:
            return fresh_draws(duration, self.seed, run.task.id, self.draws)
        return remaining_draws(duration, run.worked_min(self.now), uniforms(self.seed, run.task.id, self.draws))

    def _pace_of(self, run: TaskRun) -> Array:
        """Factor on the length of a task at the middle of its plan-pace slot."""
        work = kind_of_work(run.task, run.lanes, self._crew)
        if (run.lanes, work) not in self._steady:
            self._steady[run.lanes, work] = np.exp(self.pace.row(run.lanes, work) @ self._terms)
        steady = self._steady[run.lanes, work] * math.exp(self.pace.centre_of(run.task, run.lanes))
        if not self._shifting or work != HANDS:
            return steady
        slot, factor = self.slots.get(run.task.id), steady
        middle = (slot.start_pet_min + slot.finish_pet_min) / 2 if slot else max(self.now, run.task.start or 0.0)
        before, towards = self.pace.shift_at(middle)
        first, second = self._shift_factor(before), self._shift_factor(before + 1)
        for columns in self._shifting:
            factor[columns] *= (1.0 - towards) * first[columns] + towards * second[columns]
        return factor

    def _shift_factor(self, knot: int) -> Array:
        """Factor of the shift at a half hour; 1 in draws without a shift."""
        if knot not in self._shift:
            self._shift[knot] = np.exp(self._terms[self.pace.first_shift + knot])
        return self._shift[knot]


def _scaled(run: TaskRun) -> Duration:
    """The briefed distribution, scaled to the length that a trim or an extend set."""
    briefed = run.task.duration
    if not run.length_set or briefed.likely <= 0:
        return briefed
    share = run.planned_min / briefed.likely
    low, high = briefed.low * share, briefed.high * share
    if briefed.low == briefed.high:
        low = high = run.planned_min
    return Duration.model_construct(low=low, likely=run.planned_min, high=high, exact=briefed.exact)
