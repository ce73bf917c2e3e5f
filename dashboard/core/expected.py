"""The expected projection: the same schedule as at plan pace, over many draws of the durations at once.

Rules, beyond those of the projection at plan pace:

- A task that has not begun: its briefed three-point duration times the learned pace (`dashboard.core.pace`).
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
from typing import NamedTuple

import numpy as np

from dashboard.core.durations import (
    Array,
    estimate_draws,
    fresh_draws,
    remaining_draws,
    uniforms,
)
from dashboard.core.lifecycle import IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.pace import Pace, learn_pace
from dashboard.core.plan import Duration, Window
from dashboard.core.projection import Projection, windows_by_kind
from dashboard.core.record import Record, TaskRun

DRAWS = 5000
SEED = 2031
LEAST_HOLD_MIN = 10.0
PACE = "pace"


@dataclass(frozen=True)
class Expected:
    """Draws of the sortie. Rows of `start` and `finish` follow `tasks`; columns are draws; PET minutes."""

    tasks: tuple[str, ...]
    start: Array
    finish: Array
    end: Array
    pace: Pace
    log_pace: dict[tuple[str, ...], Array]

    def finish_percentiles(self, percents: Sequence[float]) -> dict[str, list[float]]:
        """Percentiles of the finish of each task, PET minutes."""
        if not self.tasks:
            return {}
        values = np.percentile(self.finish, percents, axis=1)
        return {task_id: values[:, i].tolist() for i, task_id in enumerate(self.tasks)}


    def drivers(self, projection: Projection, crew: set[str], lanes: Mapping[str, Sequence[str]]) -> list[Drive]:
        """Criticality and share of variance of each task, strongest first.

        A task is critical in a draw when something that sets the end begins the moment it is over (or it is itself
        the last of the crew). Its share of variance is the squared correlation of its own length, pace taken out, with
        the end, over all; the pace that all share is a driver of its own (`PACE`).
        """
        critical = np.zeros(self.finish.shape, dtype=bool)
        row = {task_id: i for i, task_id in enumerate(self.tasks)}
        for task_id in reversed(self.tasks):
            i = row[task_id]
            if crew & set(lanes[task_id]):
                critical[i] |= self.finish[i] >= self.end - 1e-6
            for other, lag in projection.links.get(task_id, ()):
                j = row[other]
                critical[i] |= critical[j] & (self.finish[i] + lag >= self.start[j] - 1e-6)
        paced = next(t for t in self.tasks if crew & set(lanes[t]))  # the arm has a pace of its own
        own = np.vstack(
            [(self.finish[i] - self.start[i]) * np.exp(-self.log_pace[tuple(lanes[t])]) for t, i in row.items()]
            + [self.log_pace[tuple(lanes[paced])]]
        )
        centred = own - own.mean(axis=1, keepdims=True)
        end = self.end - self.end.mean()
        scale = np.sqrt((centred**2).sum(axis=1) * (end**2).sum())
        squared = np.divide(centred @ end, scale, out=np.zeros(len(own)), where=scale > 1e-9) ** 2
        total = squared.sum()
        shares = squared / total if total > 0 else squared
        found = [Drive(t, float(critical[i].mean()), float(shares[i])) for t, i in row.items()]
        found.append(Drive(PACE, 1.0, float(shares[-1])))
        return sorted(found, key=lambda d: (-d.spread_share, -d.sets_end))


class Drive(NamedTuple):
    """How much a task drives the end: share of draws, and share of variance."""

    task: str
    sets_end: float
    spread_share: float


def expect(
    record: Record, projection: Projection, *, seed: int = SEED, draws: int = DRAWS, pace: Pace | None = None
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

    Returns
    -------
    Expected or None
        None when no crew task remains: the end is no longer a matter of chance.
    """
    crew = set(record.plan.crew_lane_ids())
    if not any(crew & set(record.runs[t].lanes) for t in projection.sequence):
        return None
    return Drawing(record, projection, seed, draws, pace or learn_pace(record)).drawn(crew)


class Drawing:
    """One vectorised pass over the order of the projection, and the draws that it is made of."""

    def __init__(self, record: Record, projection: Projection, seed: int, draws: int, pace: Pace) -> None:
        self.record, self.projection, self.seed, self.draws, self.pace = record, projection, seed, draws, pace
        self.now = max(0.0, record.pet_min)
        self.windows = windows_by_kind(record.plan.windows)
        terms = pace.draws(seed, draws)
        self.log_pace = {
            lanes: pace.row(lanes) @ terms for lanes in {record.runs[t].lanes for t in projection.sequence}
        }
        self.pace_factor = {lanes: np.exp(value) for lanes, value in self.log_pace.items()}
        self.row = {task_id: i for i, task_id in enumerate(projection.sequence)}
        self.start = np.empty((len(self.row), draws))
        self.finish = np.empty((len(self.row), draws))
        self.lane_free: dict[str, Array | float] = dict(projection.lane_free_first)
        for lane in record.held_lanes:
            free = self.lane_free.get(lane, self.now)
            self.lane_free[lane] = np.maximum(free, self.now + self.hold_left(f"lane {lane}", self.held_for(lane)))

    def paced(self, lanes: tuple[str, ...]) -> Array:
        """Factor of the learned pace on durations in these lanes, a draw."""
        if lanes not in self.pace_factor:
            self.pace_factor[lanes] = np.exp(self.pace.row(lanes) @ self.pace.draws(self.seed, self.draws))
        return self.pace_factor[lanes]

    def drawn(self, crew: set[str]) -> Expected:
        end: Array = np.full(self.draws, -np.inf)
        for task_id, i in self.row.items():
            run = self.record.runs[task_id]
            length = self.length(run)
            if run.state == IN_WORK:
                start: Array | float = self.now
            else:
                start = self._earliest(run, i)
                if run.task.needs:
                    start = in_windows(self.windows, run.task.needs, np.broadcast_to(start, length.shape), length)
            self.start[i] = start
            np.add(self.start[i], length, out=self.finish[i])
            for lane in run.lanes:
                free = self.lane_free.get(lane)
                self.lane_free[lane] = self.finish[i] if free is None else np.maximum(free, self.finish[i])
            if crew & set(run.lanes):
                np.maximum(end, self.finish[i], out=end)
        return Expected(tuple(self.row), self.start, self.finish, end, self.pace, self.log_pace)

    def _earliest(self, run: TaskRun, row: int) -> Array | float:
        at: Array | float = self.now
        for lane in run.lanes:
            if lane in self.lane_free:
                at = np.maximum(at, self.lane_free[lane])
        for other, lag in self.projection.predecessors.get(run.task.id, ()):
            i = self.row.get(other)
            over = self.finish[i] if i is not None else self.record.runs[other].finish_pet_min
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
        duration = _scaled(run)
        pace = self.paced(run.lanes)
        name = run.task.id
        if run.state == NOT_STARTED:
            fresh: Array = fresh_draws(duration, self.seed, name, self.draws) * pace
            return fresh
        uniform = uniforms(self.seed, name, self.draws)
        worked = run.worked_min(self.now)
        if run.whole_by_estimate_min is not None:
            since = worked - run.worked_at_estimate_min
            return estimate_draws(run.whole_by_estimate_min - run.worked_at_estimate_min, since, uniform)
        left: Array = remaining_draws(duration, worked / pace, uniform) * pace
        return left


def _scaled(run: TaskRun) -> Duration:
    """The briefed distribution, scaled to what the task was trimmed to."""
    briefed = run.task.duration
    if not run.trimmed or briefed.likely <= 0:
        return briefed
    share = run.planned_min / briefed.likely
    return Duration.model_construct(low=briefed.low * share, likely=run.planned_min, high=briefed.high * share)


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
