"""The pace of this sortie, learned from what is finished.

Model: the logarithm of (actual / briefed) of a finished task is the pace of the pair, plus a deviation of its lane,
plus scatter. Pair and lanes start at "as briefed" with a spread, so with few finished tasks the answer stays near 1:
that is the shrinking. The scatter of a task is the variance of the logarithm of its own briefed distribution. A joint
task counts for the pair and for each of its lanes in part. The arm has a pace of its own.

It is a linear model with normal errors, so its answer is exact: C. Bishop, "Pattern Recognition and Machine Learning",
section 3.3 (from memory). Prior spreads are our own choice, near the log-sd 0.23 of ten planned/actual pairs of one
historic sortie (tests/published/README.md).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from dashboard.core.durations import Array, log_moments, normals
from dashboard.core.lifecycle import DONE
from dashboard.core.record import Record, TaskRun

PAIR_SPREAD = 0.10
LANE_SPREAD = 0.06
ARM_SPREAD = 0.12
LEAST_SCATTER = 0.05
SCATTER_UNBRIEFED = 0.20
ENOUGH_TASKS = 3
_PAIR = "the pair"


@dataclass(frozen=True)
class Pace:
    """Belief about the pace: logarithms of factors on what remains.

    `names` are the pair and the lanes; `mean` and `covariance` are of their logarithmic terms. `finished` counts the
    tasks a lane has finished that say something about pace.
    """

    names: tuple[str, ...]
    kinds: Mapping[str, str]
    mean: Array
    covariance: Array
    finished: dict[str, int]

    def row(self, lanes: Sequence[str]) -> Array:
        """Which terms a task in these lanes is made of."""
        return _row(self.names, self.kinds, lanes)

    def factor(self, lane: str) -> float:
        """Median factor on the durations of a lane; 1 is as briefed."""
        return float(np.exp(self.row([lane]) @ self.mean))

    def draws(self, seed: int, draws: int) -> Array:
        """Logarithmic terms, one row a name and one column a draw."""
        root = np.linalg.cholesky(self.covariance + 1e-12 * np.eye(len(self.names)))
        normal = np.vstack([normals(seed, f"pace of {name}", draws) for name in self.names])
        drawn: Array = self.mean[:, None] + root @ normal
        return drawn


def _row(names: Sequence[str], kinds: Mapping[str, str], lanes: Sequence[str]) -> Array:
    row = np.zeros(len(names))
    crew = [lane for lane in lanes if kinds[lane] == "crew"]
    if crew:
        row[0] = 1.0
    told = crew or list(lanes)
    for lane in told:
        row[names.index(lane)] += 1.0 / len(told)
    return row


def says_something_about_pace(run: TaskRun) -> bool:
    """A task that ran its course: done, with a known start, not cut to a called length."""
    return run.state == DONE and run.start_pet_min is not None and not run.trimmed and run.worked_before_min > 0


def learn_pace(record: Record) -> Pace:
    """The pace as far as this sortie shows it."""
    kinds = {lane.id: lane.kind for lane in record.plan.lanes}
    names = (_PAIR, *kinds)
    spread = [PAIR_SPREAD] + [LANE_SPREAD if kind == "crew" else ARM_SPREAD for kind in kinds.values()]
    information = np.diag(1.0 / np.square(spread))
    weighted = np.zeros(len(names))
    finished = dict.fromkeys(kinds, 0)
    for run in record.runs.values():
        if not says_something_about_pace(run) or run.task.likely_min <= 0:
            continue
        log_mean, log_variance = log_moments(run.task.duration)
        briefed_spread = run.task.duration.high > run.task.duration.low
        scatter = max(log_variance, LEAST_SCATTER**2) if briefed_spread else SCATTER_UNBRIEFED**2
        row = _row(names, kinds, run.lanes)
        information += np.outer(row, row) / scatter
        weighted += row * (np.log(run.worked_before_min) - log_mean) / scatter
        for lane in run.lanes:
            finished[lane] += 1
    covariance: Array = np.linalg.inv(information).astype(np.float64)
    return Pace(names, kinds, covariance @ weighted, covariance, finished)
