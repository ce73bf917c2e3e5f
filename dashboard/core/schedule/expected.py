"""The expected projection: the same schedule as at plan pace, over many draws of the durations at once.

Rules, beyond those of the projection at plan pace:

- A task that has not begun: its briefed three-point duration, or a spread about its single value, with the extra scatter of
  the draw, times the learned pace (`pace.py`) at the middle of its plan-pace slot. A timed wait has no pace.
- A task in work or on hold: what remains given what was worked (`durations.remaining_draws`). A standing estimate goes
  before: what remained when it was made has a distribution of its own, and what remains now is drawn given the work
  since (`durations.estimate_draws`), also when the estimate is used up and the task goes on.
- A hold with no end in sight lasts, from now, an exponential time whose mean is what it has lasted so far, at least
  `LEAST_HOLD_MIN`. A hold for an inserted contingency ends with the contingency's tasks.
- An open alternative is taken as its option in force.

The spreads named here are our own choice; `tests/bench/` measures how well the percentiles hold.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from dashboard.core.plan.model import Duration, Window
from dashboard.core.record.lifecycle import IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.durations import (
    estimate_draws,
    fresh_draws,
    mixed_draws,
    percentiles,
    remaining_draws,
    uniforms,
)
from dashboard.core.schedule.float_or_array import Array
from dashboard.core.schedule.pace import Pace, learn_pace
from dashboard.core.schedule.plan_pace import Projection, Slot
from dashboard.core.schedule.windows import windows_by_kind

DRAWS = 5000
SEED = 2031
LEAST_HOLD_MIN = 10.0
PACE = "pace"


@dataclass(frozen=True)
class Expected:
    """Draws of the sortie: a row a task, in the order of `tasks`, a column a draw; PET minutes.

    `own` is the length of each task with the pace taken out, minutes; `common` the logarithm of the pace that the crew's
    tasks share, by how long they are. Rows are kept apart: one large block costs more to ask for than to fill.
    """

    tasks: tuple[str, ...]
    starts: list[Array]
    finishes: list[Array]
    end: Array
    own: list[Array]
    common: Array
    pace: Pace

    @cached_property
    def start(self) -> Array:
        """All starts, as one table."""
        return np.array(self.starts)

    @cached_property
    def finish(self) -> Array:
        """All finishes, as one table."""
        return np.array(self.finishes)

    def finish_percentiles(self, percents: Sequence[float]) -> dict[str, list[float]]:
        """Percentiles of the finish of each task, PET minutes."""
        return {task_id: percentiles(row, percents) for task_id, row in zip(self.tasks, self.finishes, strict=True)}

    def drivers(self, projection: Projection, crew: set[str], lanes: Mapping[str, Sequence[str]]) -> list[Drive]:
        """Criticality and share of variance of each task, strongest first.

        A task is critical in a draw when something that sets the end begins the moment it is over (or it is itself
        the last of the crew). Its share is the part of the variance of the end that its own length, pace taken out,
        explains: the squared correlation of the two. Lengths are drawn independently, so the shares of the tasks and of
        the pace they have in common (`PACE`) add up to 1 at most; the rest is holds, windows, and what tasks do only
        together (which of two lanes is the later one).
        """
        critical = [np.zeros(len(self.end), dtype=bool) for _ in self.tasks]
        row = {task_id: i for i, task_id in enumerate(self.tasks)}
        for task_id in reversed(self.tasks):
            i = row[task_id]
            if crew & set(lanes[task_id]):
                critical[i] |= self.finishes[i] >= self.end - 1e-6
            for other, lag in projection.successors.get(task_id, ()):
                j = row[other]
                critical[i] |= critical[j] & (self.finishes[i] + lag >= self.starts[j] - 1e-6)
        shares = _explained([*self.own, self.common], self.end)
        found = [Drive(t, float(critical[i].mean()), float(shares[i])) for t, i in row.items()]
        found.append(Drive(PACE, 1.0, float(shares[-1])))
        return sorted(found, key=lambda d: (-d.spread_share, -d.sets_end))


def _explained(rows: Sequence[Array], end: Array) -> Array:
    """Squared correlation of each row with the end; 0 for what does not vary."""
    ends = end - end.mean()
    together = np.array([row @ ends for row in rows])
    scale = np.array([row @ row - len(row) * row.mean() ** 2 for row in rows]) * (ends @ ends)
    shares: Array = np.divide(together**2, scale, out=np.zeros(len(rows)), where=scale > 1e-9)
    return shares


class Drive(NamedTuple):
    """How much a task drives the end: share of draws, and share of variance."""

    task: str
    sets_end: float
    spread_share: float


def expect(
    record: Record, projection: Projection, *, seed: int = SEED, draws: int = DRAWS, pace: Pace | None = None,
    paced_at: Mapping[str, Slot] | None = None,
) -> Expected | None:
    """Draw the rest of the sortie.

    Parameters
    ----------
    record : Record
    projection : Projection
        At plan pace: gives the order in which tasks are placed, and what each waits for.
    seed, draws : int
        The same seed gives the same answer.
    pace : Pace, optional
        Instead of what this sortie shows.
    paced_at : mapping, optional
        Slots of another projection: a task's pace is that of the middle of its slot there, so that many changes of one
        record can be compared on the same lengths. A task that has none is taken at its briefed time.

    Returns
    -------
    Expected or None
        None when no crew task remains: the end is no longer a matter of chance.
    """
    crew = set(record.plan.crew_lane_ids())
    if not any(crew & set(record.runs[t].lanes) for t in projection.sequence):
        return None
    return Drawing(record, projection, seed, draws, pace or learn_pace(record), paced_at).drawn()


class Drawing:
    """One vectorised pass over the order of the projection, and the draws that it is made of."""

    def __init__(
        self, record: Record, projection: Projection, seed: int, draws: int, pace: Pace,
        paced_at: Mapping[str, Slot] | None = None,
    ) -> None:
        self.slots = projection.slots if paced_at is None else paced_at
        self.record, self.projection, self.seed, self.draws, self.pace = record, projection, seed, draws, pace
        self.now = max(0.0, record.pet_min)
        self.crew = set(record.plan.crew_lane_ids())
        self.windows = windows_by_kind(record.plan.windows)
        self.blocks = pace.blocks(draws)
        self.shifting = pace.shifting(draws)
        self.terms = pace.draws(seed, draws)
        self.steady: dict[tuple[str, ...], Array] = {}
        self.shift: dict[int, Array] = {}
        self.row = {task_id: i for i, task_id in enumerate(projection.sequence)}
        self.starts: list[Array] = []
        self.finishes: list[Array] = []
        self.own: list[Array] = []
        self.lane_free: dict[str, Array | float] = dict(projection.lane_free_first)
        for lane in record.held_lanes:
            free = self.lane_free.get(lane, self.now)
            self.lane_free[lane] = np.maximum(free, self.now + self.hold_left(f"lane {lane}", self.held_for(lane)))

    def drawn(self) -> Expected:
        end: Array = np.full(self.draws, -np.inf)
        for task_id in self.row:
            run = self.record.runs[task_id]
            own, pace = self._own_and_pace(run)
            self.own.append(own)
            length = own if pace is None else own * pace
            if run.state == IN_WORK:
                start: Array | float = self.now
            else:
                start = self._earliest(run)
                if run.task.needs:
                    start = in_windows(self.windows, run.task.needs, np.broadcast_to(start, length.shape), length)
            finish = start + length
            self.starts.append(np.broadcast_to(start, length.shape))
            self.finishes.append(finish)
            for lane in run.lanes:
                free = self.lane_free.get(lane)
                self.lane_free[lane] = finish if free is None else np.maximum(free, finish)
            if self.crew & set(run.lanes):
                np.maximum(end, finish, out=end)
        return Expected(tuple(self.row), self.starts, self.finishes, end, self.own, self._common(), self.pace)

    def _earliest(self, run: TaskRun) -> Array | float:
        at: Array | float = self.now
        for lane in run.lanes:
            if lane in self.lane_free:
                at = np.maximum(at, self.lane_free[lane])
        for other, lag in self.projection.predecessors.get(run.task.id, ()):
            i = self.row.get(other)
            over = self.finishes[i] if i is not None else self.record.runs[other].finish_pet_min
            if over is not None:
                at = np.maximum(at, over + lag)
        if run.state == NOT_STARTED and run.task.not_before is not None:
            at = np.maximum(at, run.task.not_before)
        if run.state == ON_HOLD and not self.record.blocked_by.get(run.task.id) and run.held_by == "task":
            at = np.maximum(at, self.now + self.hold_left(run.task.id, self.now - (run.held_since_pet_min or self.now)))
        return at

    def held_for(self, lane: str) -> float:
        """Minutes a held lane has been held."""
        return self.now - self.record.held_since.get(lane, self.now)

    def hold_left(self, name: str, lasted_min: float) -> Array:
        """Minutes that a hold with no end in sight still lasts, a draw."""
        mean = max(LEAST_HOLD_MIN, lasted_min)
        left: Array = -mean * np.log(uniforms(self.seed, f"hold of {name}", self.draws))
        return left

    def length(self, run: TaskRun) -> Array:
        """Minutes of work left of a task, a draw, at the pace of its lanes."""
        own, pace = self._own_and_pace(run)
        return own if pace is None else own * pace

    def _own_and_pace(self, run: TaskRun) -> tuple[Array, Array | None]:
        """Minutes left with the pace taken out, and its factor, a draw; an estimate and a timed wait know no pace."""
        duration, name = _scaled(run), run.task.id
        if run.state != NOT_STARTED and run.whole_by_estimate_min is not None:
            since = run.worked_min(self.now) - run.worked_at_estimate_min
            estimate = run.whole_by_estimate_min - run.worked_at_estimate_min
            return estimate_draws(estimate, since, uniforms(self.seed, name, self.draws)), None
        if duration.exact:
            return self._of_wait(run, duration), None
        pace = self._pace_of(run)
        if run.state == NOT_STARTED:
            return mixed_draws(duration, self.seed, name, self.draws, self.blocks), pace
        worked, uniform = run.worked_min(self.now) / pace, uniforms(self.seed, name, self.draws)
        parts = [remaining_draws(duration, worked[a:b], uniform[a:b], extra) for a, b, extra in self.blocks]
        return np.concatenate(parts), pace

    def _of_wait(self, run: TaskRun, duration: Duration) -> Array:
        """Minutes left of a timed wait; one in work may overrun all the same."""
        if run.state == NOT_STARTED:
            return fresh_draws(duration, self.seed, run.task.id, self.draws)
        return remaining_draws(duration, run.worked_min(self.now), uniforms(self.seed, run.task.id, self.draws))

    def _pace_of(self, run: TaskRun) -> Array:
        """Factor on the length of a task at the middle of its plan-pace slot."""
        if run.lanes not in self.steady:
            self.steady[run.lanes] = np.exp(self.pace.row(run.lanes) @ self.terms)
        steady = self.steady[run.lanes]
        if not self.shifting or not self.crew & set(run.lanes):
            return steady
        slot, factor = self.slots.get(run.task.id), steady.copy()
        middle = (slot.start_pet_min + slot.finish_pet_min) / 2 if slot else max(self.now, run.task.start or 0.0)
        before, towards = self.pace.shift_at(middle)
        first, second = self._shift(before), self._shift(before + 1)
        for columns in self.shifting:
            factor[columns] *= (1.0 - towards) * first[columns] + towards * second[columns]
        return factor

    def _shift(self, knot: int) -> Array:
        """Factor of the shift at a half hour; 1 where a draw has none."""
        if knot not in self.shift:
            self.shift[knot] = np.exp(self.terms[1 + len(self.pace.kinds) + knot])
        return self.shift[knot]

    def _common(self) -> Array:
        """Logarithm of the pace, averaged over what remains of the crew's tasks by their length at plan pace."""
        first = 1 + len(self.pace.kinds)
        weights = np.zeros(len(self.terms))
        rows = {lanes: self.pace.row(lanes) for lanes in {self.record.runs[t].lanes for t in self.row}}
        total = 0.0
        for task_id in self.row:
            lanes, slot = self.record.runs[task_id].lanes, self.projection.slots[task_id]
            if self.crew & set(lanes):
                length = max(slot.finish_pet_min - slot.start_pet_min, 1e-3)
                before, towards = self.pace.shift_at((slot.start_pet_min + slot.finish_pet_min) / 2)
                weights += length * rows[lanes]
                weights[first + before : first + before + 2] += length * np.array((1.0 - towards, towards))
                total += length
        common: Array = weights @ self.terms / max(total, 1e-3)
        return common


def _scaled(run: TaskRun) -> Duration:
    """The briefed distribution, scaled to what the task was trimmed to."""
    briefed = run.task.duration
    if not run.trimmed or briefed.likely <= 0:
        return briefed
    share = run.planned_min / briefed.likely
    low, high = briefed.low * share, briefed.high * share
    if briefed.low == briefed.high:
        low = high = run.planned_min
    return Duration.model_construct(low=low, likely=run.planned_min, high=high, exact=briefed.exact)


def in_windows(
    windows: Mapping[str, Sequence[Window]], needs: Sequence[str], start: Array, length: Array
) -> Array:
    """Earliest starts that lie wholly inside a window of each kind; the given start where no window holds it."""
    at = start.copy()
    failed = np.zeros(len(at), dtype=bool)
    for _ in range(1 + sum(len(windows.get(kind, ())) for kind in needs)):
        before = at
        for kind in needs:
            placed = np.full(len(at), np.inf)
            for window in reversed(windows.get(kind, ())):
                begin = np.maximum(at, window.from_)
                placed = np.where(begin + length <= window.to + 1e-9, begin, placed)
            failed |= np.isinf(placed)
            at = np.where(np.isinf(placed), at, placed)
        if np.array_equal(at, before):
            break
    return np.where(failed, start, at)
