"""Durations learned from recorded runs.

The model is a linear model with normal errors for the logarithm of (actual / briefed likely) of a finished task. It is the
sum of these terms; each has a normal prior with mean zero and the named standard deviation:

- a term for all work (`ALL_SPREAD`), because all briefed lengths may be too short or too long;
- a term for its kind of work (`activity`, `ACTIVITY_SPREAD`);
- a term for the task itself (`TASK_SPREAD`);
- the pace of its run, which all tasks of the run share (`RUN_SPREAD`). A slow day therefore counts as one observation of
  the pace, not as one per task;
- a term for the setting of the run (pool, mock-up ...) relative to flight (`SETTING_SPREAD`). It is estimated only if there
  are flight runs and other runs; learned durations are then those of flight. Otherwise they are those of the settings
  that the runs have;
- scatter of the single task. Its prior is the briefed scatter, with the weight of `SCATTER_WORTH` observations.

The priors shrink the estimates: with few runs they stay near the briefed likely length. The model is solved exactly, as in
`schedule/pace.py`: C. Bishop, "Pattern Recognition and Machine Learning", section 3.3 (from memory). The size of the spreads
comes from ten published planned and actual lengths of one historic sortie (log-sd 0.23, `tests/published/`; all four
spreads together give 0.23). These pairs are not used as observations, so no run is scored with what was learned from it.
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
from dashboard.core.record.record import TaskRun
from dashboard.core.schedule.durations import log_moments, quantile
from dashboard.core.schedule.float_or_array import Array
from dashboard.core.schedule.pace import LEAST_SCATTER, says_something_about_pace
from replay.crps import crps_lognormal, crps_of_sorted
from replay.recording import RecordedRun

ALL_SPREAD = 0.15
ACTIVITY_SPREAD = 0.15
TASK_SPREAD = 0.10
RUN_SPREAD = 0.10
SETTING_SPREAD = 0.15
SCATTER_WORTH = 4.0
SCATTER_STEPS = 3
FLIGHT = "flight"
SIMULATED = "simulated"
PERT_REACH = math.sqrt(7.0)  # half the range of a symmetric beta-PERT, divided by its standard deviation
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
    """The finished tasks from which durations can be learned.

    A task counts if it is done, its start is known, no decision set its length, and its lanes did not work on a
    contingency meanwhile: how much of that time was the task's own is not known. Amendments and withdrawals are applied, and
    holds are not counted as work.

    Parameters
    ----------
    runs : iterable of (str, RecordedRun)
        With their names.

    Returns
    -------
    DataFrame
        One row per task, with the columns of `OBSERVED`.
    """
    rows = []
    for name, run in runs:
        record = reconcile(run.plan, run.events, run.last)
        for task_id, one in record.runs.items():
            if not says_something_about_pace(one) or one.task.likely_min <= 0 or _shared(one, record.runs.values()):
                continue
            rows.append(
                (
                    name,
                    run.setting or "not said",
                    run.plan.sortie.id,
                    task_id,
                    _kind_of(one.task),
                    one.task.likely_min,
                    one.worked_before_min,
                    math.log(one.worked_before_min / one.task.likely_min),
                    _briefed_scatter(one.task.duration),
                    one.task.duration.low,
                    one.task.duration.high,
                )
            )
    return pd.DataFrame(rows, columns=list(OBSERVED))


def _shared(one: TaskRun, runs: Iterable[TaskRun]) -> bool:
    """Whether a lane worked at the same time on the task and on another one, and one of the two was of a contingency."""
    return any(
        begin < other_end and other_begin < end
        for other in runs
        if other is not one and "contingency" in (one.origin, other.origin) and set(other.lanes) & set(one.lanes)
        for begin, end in one.spans for other_begin, other_end in other.spans
    )


def _kind_of(task: Task) -> str:
    """The kind of work of a task: its `activity`; without one, the task is a kind of its own."""
    return task.activity or f"task {task.id}"


def _briefed_scatter(duration: Duration) -> float:
    """Standard deviation of the logarithm of the briefed distribution, at least `LEAST_SCATTER`."""
    return max(math.sqrt(log_moments(duration)[1]), LEAST_SCATTER)


class Learned(NamedTuple):
    """A learned log-normal factor on the briefed likely length.

    Parameters
    ----------
    log_mean : float
        Logarithm of its median.
    scatter : float
        Standard deviation of the logarithm for a single task, about the median.
    doubt : float
        Standard deviation of `log_mean`.
    n, runs : int
        Number of tasks and of runs that it was learned from.
    settings : tuple of str
        Settings of these runs.
    """

    log_mean: float
    scatter: float
    doubt: float
    n: int
    runs: int
    settings: tuple[str, ...]

    @property
    def log_sd(self) -> float:
        """Standard deviation of the logarithm for the next time the task is done, at the ordinary pace of a day."""
        return math.hypot(self.scatter, self.doubt)


@dataclass(frozen=True)
class Fit:
    """The learned factors.

    Parameters
    ----------
    kinds : mapping of str to Learned
        By kind of work.
    tasks : mapping of (str, str) to Learned
        By sortie and task.
    settings : mapping of str to (float, float)
        For each setting other than flight: its factor relative to flight, and the standard deviation of its logarithm.
    for_setting : str
        The setting or settings that the factors are for.
    """

    kinds: Mapping[str, Learned]
    tasks: Mapping[tuple[str, str], Learned]
    settings: Mapping[str, tuple[float, float]]
    for_setting: str

    def of(self, task: Task, sortie: str) -> Learned | None:
        """The factor for a task of a plan.

        Parameters
        ----------
        task : Task
        sortie : str
            Id of the plan's sortie.

        Returns
        -------
        Learned or None
            That of the task, else that of its kind of work; None when neither was observed.
        """
        return self.tasks.get((sortie, task.id)) or self.kinds.get(_kind_of(task))


def fit(seen: pd.DataFrame) -> Fit:
    """Learn factors from observations.

    Parameters
    ----------
    seen : DataFrame
        From `observations`, with at least one row.

    Returns
    -------
    Fit
    """
    model = _Model(seen)
    return model.fit(*model.settled(np.ones(len(seen))))


class _Solved(NamedTuple):
    """The posterior of the model.

    Parameters
    ----------
    mean, covariance : array of shape (terms,) and (terms, terms)
        Of all terms except the pace of the runs.
    run_mean, run_variance : array of shape (runs,)
        Of the pace of each run; the variance is conditional on the other terms.
    """

    mean: Array
    covariance: Array
    run_mean: Array
    run_variance: Array


class _Model:
    """The linear model of some observations.

    `columns` has shape (observations, 4): for each observation the positions of its terms for all work, kind, task and
    setting. `counts` has the same shape, and is 0 where a term does not apply. `run` is the number of the run.
    """

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
        """The posterior, and the scatter of each observation. `used` is 1 for observations to learn from, else 0."""
        scatter = self.briefed
        for _ in range(SCATTER_STEPS):
            scatter = self._scatter(self._solved(scatter, used), used)
        return self._solved(scatter, used), scatter

    def _solved(self, scatter: Array, used: Array) -> _Solved:
        """Solve the normal equations. The terms of the runs are eliminated first (Schur complement).

        This is cheap, because each of them occurs only in the observations of its own run.
        """
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
        """Update the scatter per kind of work, as a weighted mean of the briefed variance and the residuals.

        The residual of an observation is its squared error plus the variance of its fitted value (one step of
        expectation-maximisation, with the pace of the run taken as independent of the other terms). The squared error alone
        would underestimate the scatter.
        """
        fitted = (solved.mean[self.columns] * self.counts).sum(axis=1) + solved.run_mean[self.run]
        residual = (self.found - fitted) ** 2 + self._variance(slice(None), solved) + solved.run_variance[self.run]
        count = np.bincount(self.kind, used)[self.kind]
        squares = np.bincount(self.kind, used * residual)[self.kind]
        variance = (SCATTER_WORTH * self.briefed**2 + squares) / (SCATTER_WORTH + count)
        updated: Array = np.maximum(np.sqrt(variance), LEAST_SCATTER)
        return updated

    def forecast(self, rows: NDArray[np.intp], solved: _Solved, scatter: Array) -> tuple[Array, Array]:
        """Mean and standard deviation of the logarithm for these observations, as if their runs had not been observed.

        The standard deviation includes the spread of the pace of a run.
        """
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
    """A learned duration as low, likely and high of the plan file.

    The plan reads three points as a beta-PERT distribution. Low and high are the median of the log-normal times
    exp(-/+ sqrt(7) log-sd), which about one value in 250 exceeds on each side; likely is the mode of the log-normal. Mean
    and spread of both distributions then agree. The spread of the pace between days is not included, because the projection
    learns the pace of the day itself.

    Parameters
    ----------
    likely_min : float
        Briefed likely length.
    learned : Learned

    Returns
    -------
    (float, float, float)
        Minutes, rounded to a tenth.
    """
    median, sd = likely_min * math.exp(learned.log_mean), learned.log_sd
    low, high = (median * math.exp(sign * PERT_REACH * sd) for sign in (-1, 1))
    return round(low, 1), round(median * math.exp(-(sd**2)), 1), round(high, 1)


def learned_table(plan: Plan, found: Fit) -> pd.DataFrame:
    """A table of briefed and learned durations.

    Parameters
    ----------
    plan : Plan
    found : Fit

    Returns
    -------
    DataFrame
        One row per task of the plan. The learned columns are empty if neither the task nor its kind was observed.
    """
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
    """Learned and briefed durations, tested on runs that were left out of the learning.

    Parameters
    ----------
    runs, n : int
        Number of runs and of tasks.
    learned_error, briefed_error : float
        Mean absolute error of the logarithm of the duration (0.1 is about 10 %).
    learned_crps_min, briefed_crps_min : float
        Mean CRPS, minutes. Both forecasts include the same spread of the pace between days.
    runs_better : int
        Number of runs with a smaller error of the learned durations.
    """

    runs: int
    n: int
    learned_error: float
    briefed_error: float
    learned_crps_min: float
    briefed_crps_min: float
    runs_better: int


def cross_validated(seen: pd.DataFrame) -> CrossValidation | None:
    """Leave out each run in turn, learn from the others, and forecast the tasks of the run that was left out.

    Parameters
    ----------
    seen : DataFrame
        From `observations`.

    Returns
    -------
    CrossValidation or None
        None when there are fewer than two runs.
    """
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
    """A sample of the briefed distribution times the pace of a day, from an even grid of quantiles; sorted, minutes."""
    duration = Duration(low=low, likely=likely, high=high)
    fractions = (np.arange(PACE_QUANTILES) + 0.5) / PACE_QUANTILES
    pace = np.exp(RUN_SPREAD * np.array([NormalDist().inv_cdf(f) for f in fractions]))
    return np.sort(np.outer(quantile(duration, _FRACTIONS), pace).ravel())


def real_runs(runs: Sequence[tuple[str, RecordedRun]]) -> tuple[list[tuple[str, RecordedRun]], int]:
    """The runs to learn from, and the number of simulated runs that are left out.

    Simulated runs are used only when there are no others.

    Parameters
    ----------
    runs
        With their names.

    Returns
    -------
    (list of (str, RecordedRun), int)
        Runs and number; the number is 0 when simulated runs are used.
    """
    real = [(name, run) for name, run in runs if run.setting != SIMULATED]
    return (real, len(runs) - len(real)) if real else (list(runs), 0)
