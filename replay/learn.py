"""Durations learned from recorded runs.

Model: the logarithm of (actual / briefed likely) of a finished task is the sum of

- what all work has in common (`ALL_SPREAD`): briefs may be too short, or too long, throughout;
- its kind of work (`activity`), which starts at "as briefed" with the spread `ACTIVITY_SPREAD`;
- the task itself, a deviation from its kind (`TASK_SPREAD`);
- the pace of its run, which all tasks of the run share (`RUN_SPREAD`): one slow day is one piece of evidence, not forty;
- where the run was made (pool, mock-up ...) against flight, kept apart (`SETTING_SPREAD`): estimated only when there are
  flight runs and others; learned durations are then those of flight. Without a flight run they are those of the runs;
- scatter, which starts at the briefed one and moves to what is found (`SCATTER_WORTH` observations of weight).

The spreads of the terms are the shrinking: with few runs the answer stays near the briefed likely. It is a linear model
with normal errors, solved exactly: C. Bishop, "Pattern Recognition and Machine Learning", section 3.3 (from memory), as in
`schedule/pace.py`. The ten published planned/actual pairs of one historic sortie (log-sd 0.23, `tests/published/`) are
where the order of the spreads comes from (all four together: 0.23); they are no observations here, so a run is only ever
scored with what was learned from others.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from dashboard.core.plan.model import Duration, Plan, Task
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.durations import log_moments, quantile
from dashboard.core.schedule.float_or_array import Array
from dashboard.core.schedule.pace import LEAST_SCATTER, NARROW, says_something_about_pace
from replay.crps import crps_lognormal, crps_of_sorted
from replay.recording import RecordedRun

ALL_SPREAD = 0.15
ACTIVITY_SPREAD = 0.15
TASK_SPREAD = 0.10
RUN_SPREAD = NARROW
SETTING_SPREAD = 0.15
SCATTER_WORTH = 4.0
SCATTER_STEPS = 3
FLIGHT = "flight"
SIMULATED = "simulated"
PERT_REACH = math.sqrt(7.0)  # half the range of an even beta-PERT over its standard deviation
QUANTILES = 64
PACE_QUANTILES = 16
_FRACTIONS = (np.arange(QUANTILES) + 0.5) / QUANTILES

OBSERVED = (
    "run",
    "setting",
    "sortie",
    "task",
    "activity",
    "likely_min",
    "actual_min",
    "log_ratio",
    "scatter",
    "low_min",
    "high_min",
)


def observations(runs: Iterable[tuple[str, RecordedRun]]) -> pd.DataFrame:
    """One row a finished task that ran its course: done, its start known, not cut to a called length.

    What stands in the log decides, as everywhere: amended times as amended, withdrawn events not at all, holds not counted.
    """
    rows = []
    for name, run in runs:
        record = reconcile(run.plan, run.events, run.last)
        for task_id, one in record.runs.items():
            if not says_something_about_pace(one) or one.task.likely_min <= 0:
                continue
            rows.append(
                (
                    name,
                    run.setting or "not said",
                    run.plan.sortie.id,
                    task_id,
                    kind_of(one.task),
                    one.task.likely_min,
                    one.worked_before_min,
                    math.log(one.worked_before_min / one.task.likely_min),
                    briefed_scatter(one.task.duration),
                    one.task.duration.low,
                    one.task.duration.high,
                )
            )
    return pd.DataFrame(rows, columns=list(OBSERVED))


def kind_of(task: Task) -> str:
    """The kind of work: its `activity`, else the task itself."""
    return task.activity or f"task {task.id}"


def briefed_scatter(duration: Duration) -> float:
    """Log-sd of the briefed distribution."""
    return max(math.sqrt(log_moments(duration)[1]), LEAST_SCATTER)


class Learned(NamedTuple):
    """Log-normal factor on the briefed likely: median `exp(log_mean)`, and where it comes from.

    `scatter` is the log-sd of one task about it, `doubt` that of the median itself; `n` tasks in `runs` runs.
    """

    log_mean: float
    scatter: float
    doubt: float
    n: int
    runs: int
    settings: tuple[str, ...]

    @property
    def log_sd(self) -> float:
        """Of the next time it is done on a day of ordinary pace."""
        return math.hypot(self.scatter, self.doubt)


@dataclass(frozen=True)
class Fit:
    """What was learned: by kind of work, by (sortie, task), and the factor of each setting against flight."""

    kinds: Mapping[str, Learned]
    tasks: Mapping[tuple[str, str], Learned]
    settings: Mapping[str, tuple[float, float]]
    for_setting: str

    def of(self, task: Task, sortie: str) -> Learned | None:
        """For a task of a plan: its own, else that of its kind of work, else None: nothing like it was seen."""
        return self.tasks.get((sortie, task.id)) or self.kinds.get(kind_of(task))


def fit(seen: pd.DataFrame) -> Fit:
    """Learn from observations (at least one)."""
    model = _Model(seen)
    return model.fit(*model.settled(np.ones(len(seen))))


class _Solved(NamedTuple):
    """Mean and covariance of all terms but the runs'; of each run's pace the mean, and its variance, the others given."""

    mean: Array
    covariance: Array
    run_mean: Array
    run_variance: Array


class _Model:
    """The linear model of some observations. `columns` names the terms of each: all, kind, task, setting; and its run."""

    def __init__(self, seen: pd.DataFrame) -> None:
        self.seen = seen
        self.kind, self.kinds = pd.factorize(seen["activity"])
        self.task, self.tasks = pd.factorize(pd.MultiIndex.from_arrays([seen["sortie"], seen["task"]]))
        self.run, self.runs = pd.factorize(seen["run"])
        settings = sorted(set(seen["setting"]))
        self.for_setting = FLIGHT if FLIGHT in settings else ", ".join(settings)
        self.apart = [name for name in settings if name != FLIGHT] if FLIGHT in settings else []
        sizes = [1, len(self.kinds), len(self.tasks), max(1, len(self.apart))]
        self.at = dict(
            zip(("all", "kind", "task", "setting"), np.cumsum([0, *sizes[:-1]]).tolist(), strict=True)
        )
        self.prior = np.repeat(
            1 / np.square([ALL_SPREAD, ACTIVITY_SPREAD, TASK_SPREAD, SETTING_SPREAD]), sizes
        )
        place = {name: i for i, name in enumerate(self.apart)}
        setting = np.array([place.get(name, -1) for name in seen["setting"]])
        self.columns = np.column_stack(
            [
                np.zeros(len(seen), dtype=np.int64),
                self.at["kind"] + self.kind,
                self.at["task"] + self.task,
                self.at["setting"] + np.maximum(setting, 0),
            ]
        )
        self.counts = np.column_stack([np.ones((len(seen), 3)), setting >= 0])
        self.found = seen["log_ratio"].to_numpy(dtype=float)
        self.briefed = seen["scatter"].to_numpy(dtype=float)

    def settled(self, used: Array) -> tuple[_Solved, Array]:
        """The answer and the scatter of each observation; `used` is 1 for what is learned from, else 0."""
        scatter = self.briefed
        for _ in range(SCATTER_STEPS):
            scatter = self._scatter(self._solved(scatter, used), used)
        return self._solved(scatter, used), scatter

    def _solved(self, scatter: Array, used: Array) -> _Solved:
        """The runs' terms are taken out first (Schur complement): each stands in its own run's observations alone."""
        terms, runs = len(self.prior), len(self.runs)
        weight = used / scatter**2
        weighted = weight[:, None] * self.counts
        pairs = (self.columns[:, :, None] * terms + self.columns[:, None, :]).ravel()
        main = np.bincount(pairs, (weighted[:, :, None] * self.counts[:, None, :]).ravel(), terms**2)
        cross = np.bincount((self.columns * runs + self.run[:, None]).ravel(), weighted.ravel(), terms * runs)
        cross = cross.reshape(terms, runs)
        own = np.bincount(self.run, weight, runs) + 1 / RUN_SPREAD**2
        sums = np.bincount(self.columns.ravel(), (weighted * self.found[:, None]).ravel(), terms)
        run_sums = np.bincount(self.run, weight * self.found, runs)
        information = main.reshape(terms, terms) + np.diag(self.prior) - (cross / own) @ cross.T
        covariance: Array = np.linalg.inv(information).astype(np.float64)
        mean = covariance @ (sums - cross @ (run_sums / own))
        return _Solved(mean, covariance, (run_sums - cross.T @ mean) / own, 1 / own)

    def _scatter(self, solved: _Solved, used: Array) -> Array:
        """The briefed scatter, moved to what is left over a kind of work, by how many observations there are of it.

        What is left over is the squared miss and how unsure the answer is (a step of expectation-maximisation, the run's
        pace and the other terms taken as independent): a miss alone would call the scatter too small.
        """
        told = (solved.mean[self.columns] * self.counts).sum(axis=1) + solved.run_mean[self.run]
        left_over = (self.found - told) ** 2 + self._variance(slice(None), solved) + solved.run_variance[self.run]
        count = np.bincount(self.kind, used)[self.kind]
        squares = np.bincount(self.kind, used * left_over)[self.kind]
        variance = (SCATTER_WORTH * self.briefed**2 + squares) / (SCATTER_WORTH + count)
        moved: Array = np.maximum(np.sqrt(variance), LEAST_SCATTER)
        return moved

    def forecast(self, rows: NDArray[np.intp], solved: _Solved, scatter: Array) -> tuple[Array, Array]:
        """Log-mean and log-sd of these observations by all terms but their own run's, a day's pace included."""
        columns, counts = self.columns[rows], self.counts[rows]
        variance = self._variance(rows, solved) + scatter[rows] ** 2 + RUN_SPREAD**2
        return (solved.mean[columns] * counts).sum(axis=1), np.sqrt(variance)

    def _variance(self, rows: NDArray[np.intp] | slice, solved: _Solved) -> Array:
        columns, counts = self.columns[rows], self.counts[rows]
        blocks = solved.covariance[columns[:, :, None], columns[:, None, :]]
        variance: Array = (blocks * counts[:, :, None] * counts[:, None, :]).sum(axis=(1, 2))
        return variance

    def fit(self, solved: _Solved, scatter: Array) -> Fit:
        seen = self.seen.assign(scatter=scatter)
        all_, kind, task = self.at["all"], self.at["kind"], self.at["task"]
        kind_of_task = dict(zip(self.task.tolist(), self.kind.tolist(), strict=True))
        kinds = {
            str(self.kinds[i]): _learned(solved, [all_, kind + i], part, TASK_SPREAD)
            for i, part in seen.groupby(self.kind)
        }
        tasks = {
            (str(self.tasks[i][0]), str(self.tasks[i][1])): _learned(
                solved, [all_, kind + kind_of_task[i], task + i], part, 0.0
            )
            for i, part in seen.groupby(self.task)
        }
        places = {name: self.at["setting"] + i for i, name in enumerate(self.apart)}
        factors = {
            name: (float(np.exp(solved.mean[i])), float(np.sqrt(solved.covariance[i, i])))
            for name, i in places.items()
        }
        return Fit(kinds, tasks, factors, self.for_setting)


def _learned(solved: _Solved, terms: list[int], part: pd.DataFrame, more: float) -> Learned:
    variance = float(solved.covariance[np.ix_(terms, terms)].sum()) + more**2
    return Learned(
        float(solved.mean[terms].sum()),
        float(part["scatter"].mean()),
        math.sqrt(variance),
        len(part),
        int(part["run"].nunique()),
        tuple(sorted(set(part["setting"]))),
    )


# --- into a plan ----------------------------------------------------------------------------------


def three_points(likely_min: float, learned: Learned) -> tuple[float, float, float]:
    """A learned duration as [low, likely, high] of the plan file, minutes, to the tenth.

    The plan's three points are a beta-PERT. These are the ones whose mean and spread are those of the log-normal: its median
    times exp(-/+ sqrt(7) log-sd), about one in 250 beyond each; likely is its mode. The pace of a day is not in it: the
    projection learns that for itself.
    """
    median, sd = likely_min * math.exp(learned.log_mean), learned.log_sd
    low, high = (median * math.exp(sign * PERT_REACH * sd) for sign in (-1, 1))
    return round(low, 1), round(median * math.exp(-(sd**2)), 1), round(high, 1)


def learned_table(plan: Plan, found: Fit) -> pd.DataFrame:
    """Briefed against learned for every task of a plan; without evidence the learned columns are empty."""
    rows = []
    for task in plan.all_tasks().values():
        row = {
            "task": task.id,
            "title": task.title,
            "activity": task.activity or "",
            "briefed_low": task.duration.low,
            "briefed_likely": task.duration.likely,
            "briefed_high": task.duration.high,
        }
        one = found.of(task, plan.sortie.id) if task.likely_min > 0 and not task.duration.exact else None
        if one is not None:
            low, likely, high = three_points(task.likely_min, one)
            row |= {
                "learned_low": low,
                "learned_likely": likely,
                "learned_high": high,
                "factor": math.exp(one.log_mean),
                "log_sd": one.log_sd,
                "n": one.n,
                "runs": one.runs,
                "settings": ", ".join(one.settings),
                "from": "task" if (plan.sortie.id, task.id) in found.tasks else "activity",
            }
        rows.append(row)
    columns = (
        "task",
        "title",
        "activity",
        "briefed_low",
        "briefed_likely",
        "briefed_high",
        "learned_low",
        "learned_likely",
        "learned_high",
        "factor",
        "log_sd",
        "n",
        "runs",
        "settings",
        "from",
    )
    return pd.DataFrame(rows, columns=list(columns))


# --- leave one run out ----------------------------------------------------------------------------


class CrossValidation(NamedTuple):
    """Learned against briefed on runs that were not learned from. Means over `n` tasks of `runs` runs.

    Errors are absolute errors of the logarithm of the duration (0.1 is about 10 %); CRPS in minutes, both forecasts with
    the same spread of a day's pace.
    """

    runs: int
    n: int
    learned_error: float
    briefed_error: float
    learned_crps_min: float
    briefed_crps_min: float
    runs_better: int


def cross_validated(seen: pd.DataFrame) -> CrossValidation | None:
    """Learn from all runs but one and forecast that one, for each in turn; None when there are fewer than two runs."""
    model = _Model(seen)
    if len(model.runs) < 2:
        return None
    rows: list[list[float]] = []
    better = 0
    for number in range(len(model.runs)):
        away = model.run == number
        solved, scatter = model.settled((~away).astype(float))
        means, spreads = model.forecast(np.flatnonzero(away), solved, scatter)
        scored = [
            [
                abs(row.log_ratio - mean),
                abs(row.log_ratio),
                crps_lognormal(math.log(row.likely_min) + mean, spread, row.actual_min),
                _briefed_crps(row.low_min, row.likely_min, row.high_min, row.actual_min),
            ]
            for row, mean, spread in zip(
                seen[away].itertuples(), means.tolist(), spreads.tolist(), strict=True
            )
        ]
        errors = np.array(scored).mean(axis=0)
        better += bool(errors[0] < errors[1])
        rows += scored
    error, briefed, crps, briefed_crps = np.array(rows).mean(axis=0).tolist()
    return CrossValidation(len(model.runs), len(rows), error, briefed, crps, briefed_crps, better)


def _briefed_crps(low: float, likely: float, high: float, actual: float) -> float:
    return float(crps_of_sorted(_briefed_sample(low, likely, high)[None, :], np.array([actual]))[0])


@lru_cache(maxsize=2048)
def _briefed_sample(low: float, likely: float, high: float) -> Array:
    """The briefed distribution times the pace of a day, as an even grid of both, in order; minutes."""
    duration = Duration(low=low, likely=likely, high=high)
    fractions = (np.arange(PACE_QUANTILES) + 0.5) / PACE_QUANTILES
    pace = np.exp(RUN_SPREAD * np.array([NormalDist().inv_cdf(f) for f in fractions]))
    return np.sort(np.outer(quantile(duration, _FRACTIONS), pace).ravel())


def real_runs(runs: Sequence[tuple[str, RecordedRun]]) -> tuple[list[tuple[str, RecordedRun]], int]:
    """The runs to learn from, and how many simulated ones are left out: all of them, unless there is nothing else."""
    real = [(name, run) for name, run in runs if run.setting != SIMULATED]
    return (real, len(runs) - len(real)) if real else (list(runs), 0)
