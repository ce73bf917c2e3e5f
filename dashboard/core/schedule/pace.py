"""The pace of this sortie, learned from what is finished.

Model: the logarithm of (actual / briefed) of a finished task is the sum of the pace of the pair, a deviation of its lane, a
shift that comes and goes in the course of the sortie, and scatter. The shift fades exponentially: after `SHIFT_FADES_MIN`,
e^-1 of it is left. A joint task counts for the pair, and in part for each of its lanes. The arm has a pace of its own and
no shift.

The pace is not one belief but several. It is not known beforehand how far the pace may lie from "as briefed", whether it
shifts, and how much tasks scatter beyond their briefed ranges. `KINDS` lists the kinds of sortie that are thought possible,
each with its weight before anything is finished. For each kind the model is linear with normal errors, so its answer is
exact. The kinds are then weighed by how well each predicted the finished tasks: C. Bishop, "Pattern Recognition and Machine
Learning", sections 3.3 and 3.5 (from memory). Each draw belongs to one kind. With few finished tasks the answer stays wide
and near "as briefed".

Where the prior comes from: ten planned/actual pairs of three historic sorties, with mean log ratios of 0.39, 0.14 and 0.10
for each sortie (sources and arithmetic in tests/published/test_pace_history.py). Their root mean square about "as briefed"
is 0.25 (`WIDE`); without the first sortie it is 0.12. The pairs set the order of the prior spreads and are no observations:
whoever uses them as observations must leave them out when scoring their own sortie. `NARROW`, the weights, the lane spread,
the spread and fading time of the shift and the extra scatters are our own choice. `python -m tests.bench.calibration` measures
what a change of `KINDS` is worth; nothing in it may be set on a sortie that is also scored.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import NamedTuple

import numpy as np

from dashboard.core.events.far_off import FAR_OFF_MIN
from dashboard.core.record.lifecycle import DONE
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.durations import Block, log_moments, normals
from dashboard.core.schedule.float_or_array import Array

NARROW, WIDE = 0.10, 0.25
LANE_SPREAD = 0.06
ARM_SPREAD = 0.12
SHIFT_SPREAD = 0.25
SHIFT_FADES_MIN = 60.0
LEAST_SCATTER = 0.05
ENOUGH_TASKS = 3
_KNOT_MIN = 30.0
_PAIR = "the pair"


class Kind(NamedTuple):
    """A kind of sortie that is thought possible.

    Parameters
    ----------
    pair, lane, shift : float
        Standard deviations of the logarithm: of the pair's pace, of a crew lane's deviation, and of the shift (0: none).
    extra : float
        Extra scatter of each task, a standard deviation of the logarithm too.
    weight : float
        Before anything is finished; the weights of all kinds add up to 1.
    """

    pair: float
    lane: float
    shift: float
    extra: float
    weight: float


_DAYS = ((NARROW, 0.0, 0.70), (WIDE, 0.0, 0.20), (NARROW, SHIFT_SPREAD, 0.10))
_EXTRAS = ((0.0, 0.82), (0.20, 0.10), (0.35, 0.08))
KINDS = tuple(Kind(pair, LANE_SPREAD, shift, extra, w * v) for (pair, shift, w), (extra, v) in product(_DAYS, _EXTRAS))


class Belief(NamedTuple):
    """What the finished tasks say if the sortie is of one kind.

    Parameters
    ----------
    weight : float
        Probability of the kind.
    extra : float
        Extra scatter of each task.
    terms : int
        Only the first so many terms may differ from 0: all of them with a shift, all but those of the shift without.
    mean : array of shape (all terms,)
    covariance : array of shape (all terms, all terms)
    """

    weight: float
    extra: float
    terms: int
    mean: Array
    covariance: Array


@dataclass(frozen=True)
class Pace:
    """Belief about the pace: terms, which are logarithms of factors on what remains.

    The terms are the pair, each lane, and the shift at every half hour of PET.

    Parameters
    ----------
    kinds : mapping of str to str
        Lane -> its kind (crew, arm or other).
    beliefs : tuple of Belief
        One for each kind of sortie; their weights add up to 1.
    finished : dict of str to int
        Lane -> how many of its finished tasks say something about pace.
    now_pet_min : float
        When it was learned.
    knots : int
        How many half hours the shift covers.
    """

    kinds: Mapping[str, str]
    beliefs: tuple[Belief, ...]
    finished: dict[str, int]
    now_pet_min: float
    knots: int

    def row(self, lanes: Sequence[str]) -> Array:
        """Weights of the terms in the pace of a task, the shift left out.

        Parameters
        ----------
        lanes
            Lanes of the plan that do the task. Where a crew lane is among them, lanes of other kinds have no weight.

        Returns
        -------
        array of shape (terms,)
            In the order of the terms: the pair, each lane of `kinds`, and zeros for the shift. A new array.
        """
        return _row(self.kinds, self.knots, lanes)

    def shift_at(self, pet_min: float) -> tuple[int, float]:
        """Half hour before a PET, and how far it lies towards the next; the shift is constant after the last.

        Parameters
        ----------
        pet_min
            PET minutes; before PET zero the shift is that of PET zero.

        Returns
        -------
        tuple of (int, float)
            Number of the half hour, counted from 0, at most the last but one; and the way to the next, from 0 to 1.
        """
        return _shift_at(pet_min, self.knots)

    @property
    def mean(self) -> Array:
        """Mean of the terms over all kinds of sortie; shape (terms,)."""
        mean: Array = np.sum([b.weight * b.mean for b in self.beliefs], axis=0)
        return mean

    def _log_factor(self, lanes: Sequence[str]) -> float:
        """Mean logarithm of the factor on what remains in these lanes; the shift is averaged over what it covers from now on."""
        row, first = self.row(lanes), len(self.kinds) + 1
        if any(self.kinds[lane] == "crew" for lane in lanes):
            ahead = min(math.ceil(self.now_pet_min / _KNOT_MIN), self.knots - 1)
            row[first + ahead :] = 1.0 / (self.knots - ahead)
        return float(row @ self.mean)

    def factor(self, lane: str) -> float:
        """Typical factor on the durations that remain in a lane; 1 is as briefed.

        Parameters
        ----------
        lane
            A lane of the plan.

        Returns
        -------
        float
            Above 1: the work that remains takes longer than briefed.
        """
        return math.exp(self._log_factor([lane]))

    def blocks(self, draws: int) -> tuple[Block, ...]:
        """Which draws have which extra scatter, in order.

        Parameters
        ----------
        draws
            How many draws there are.

        Returns
        -------
        tuple of Block
            Together all draws; kinds of sortie that get no draw are left out.
        """
        return tuple(
            Block(columns.start, columns.stop, belief.extra)
            for belief, columns in zip(self.beliefs, self._columns(draws), strict=True) if columns.stop > columns.start
        )

    def shifting(self, draws: int) -> list[slice]:
        """Which draws may have a shift, in as few slices as possible.

        Parameters
        ----------
        draws
            How many draws there are.

        Returns
        -------
        list of slice
            Columns of the array of `Pace.draws`, in order; empty when no draw has a shift.
        """
        steady, found = len(self.kinds) + 1, list[slice]()
        for belief, columns in zip(self.beliefs, self._columns(draws), strict=True):
            if belief.terms > steady and columns.stop > columns.start:
                joined = bool(found) and found[-1].stop == columns.start
                begin = found.pop().start if joined else columns.start
                found.append(slice(begin, columns.stop))
        return found

    def _columns(self, draws: int) -> list[slice]:
        """Which draws belong to each kind of sortie: a share in proportion to its weight, in order."""
        edges = np.rint(np.cumsum([b.weight for b in self.beliefs]) * draws).astype(int).tolist()
        edges[-1] = draws
        return [slice(low, high) for low, high in zip([0, *edges[:-1]], edges, strict=True)]

    def draws(self, seed: int, draws: int) -> Array:
        """Draw the terms.

        Parameters
        ----------
        seed, draws : int

        Returns
        -------
        array of shape (terms, draws)
        """
        names = [_PAIR, *self.kinds, *(f"shift at {k}" for k in range(self.knots))]
        rows = [normals(seed, f"pace of {name}", draws) for name in names]
        drawn = np.zeros((len(names), draws))
        for belief, columns in zip(self.beliefs, self._columns(draws), strict=True):
            n = belief.terms
            root = np.linalg.cholesky(belief.covariance[:n, :n] + 1e-12 * np.eye(n))
            drawn[:n, columns] = belief.mean[:n, None] + root @ np.array([row[columns] for row in rows[:n]])
        return drawn


def _row(kinds: Mapping[str, str], knots: int, lanes: Sequence[str]) -> Array:
    names = list(kinds)
    row = np.zeros(1 + len(names) + knots)
    crew = [lane for lane in lanes if kinds[lane] == "crew"]
    if crew:
        row[0] = 1.0
    sharing = crew or list(lanes)
    for lane in sharing:
        row[1 + names.index(lane)] += 1.0 / len(sharing)
    return row


def _shift_at(pet_min: float, knots: int) -> tuple[int, float]:
    at = min(max(pet_min, 0.0) / _KNOT_MIN, knots - 1.0)
    before = min(int(at), max(knots - 2, 0))
    return before, at - before


def says_something_about_pace(run: TaskRun) -> bool:
    """Whether it ran its course: it is done, its start is known, no trim or extend set its length, and it is no timed wait.

    Parameters
    ----------
    run
        A task of a record.

    Returns
    -------
    bool
        False also for a task with no time in work.
    """
    if run.length_set or run.task.duration.exact:
        return False
    return run.state == DONE and run.start_pet_min is not None and run.worked_before_min > 0


def learn_pace(record: Record, kinds: Sequence[Kind] = KINDS) -> Pace:
    """Learn the pace of a sortie from what is finished.

    While PET zero is in doubt, nothing is learned. The shift covers the sortie and no more: however long a clock runs on,
    it costs no more time and memory.

    Parameters
    ----------
    record : Record
    kinds : sequence of Kind
        Kinds of sortie that are thought possible.

    Returns
    -------
    Pace
    """
    lanes = {lane.id: lane.kind for lane in record.plan.lanes}
    now = max(0.0, record.pet_min)
    limit_min = record.plan.sortie.limit
    knots = math.ceil(min(max(limit_min, now), limit_min + FAR_OFF_MIN) / _KNOT_MIN) + 1
    rows, seen, scatter = [], [], []
    finished = dict.fromkeys(lanes, 0)
    for run in record.runs.values() if record.pet_zero_doubt is None else ():
        if not says_something_about_pace(run) or run.task.likely_min <= 0:
            continue
        log_mean, log_variance = log_moments(run.task.duration)
        row = _row(lanes, knots, run.lanes)
        if row[0]:
            before, towards = _shift_at(((run.start_pet_min or 0.0) + (run.finish_pet_min or 0.0)) / 2, knots)
            row[1 + len(lanes) + before] += 1.0 - towards
            row[1 + len(lanes) + min(before + 1, knots - 1)] += towards
        rows.append(row)
        seen.append(math.log(run.worked_before_min) - log_mean)
        scatter.append(max(log_variance, LEAST_SCATTER**2))
        for lane in run.lanes:
            finished[lane] += 1
    matrix = np.array(rows).reshape(len(rows), 1 + len(lanes) + knots)
    weighed = [_weigh(kind, tuple(lanes.values()), knots, matrix, np.array(seen), np.array(scatter)) for kind in kinds]
    best = max(log_weight for log_weight, _ in weighed)
    total = sum(math.exp(log_weight - best) for log_weight, _ in weighed)
    beliefs = tuple(b._replace(weight=math.exp(log_weight - best) / total) for log_weight, b in weighed)
    return Pace(lanes, beliefs, finished, now, knots)


def _weigh(
    kind: Kind, lanes: tuple[str, ...], knots: int, matrix: Array, seen: Array, scatter: Array
) -> tuple[float, Belief]:
    """Log weight of a kind after what was finished, and the terms given that kind: the normal linear model in closed form."""
    prior = _prior(kind.pair, kind.lane, kind.shift, lanes, knots)
    part = matrix[:, : prior.terms]
    noise = scatter + kind.extra**2
    precision = prior.precision + (part.T / noise) @ part
    weighted = part.T @ (seen / noise)
    covariance = np.linalg.inv(precision)
    mean = covariance @ weighted
    log_likelihood = -0.5 * (
        float(seen @ (seen / noise) - weighted @ mean) + float(np.log(noise).sum())
        + float(np.linalg.slogdet(precision)[1]) - prior.log_determinant
    )
    whole_mean, whole = np.zeros(matrix.shape[1]), np.zeros((matrix.shape[1], matrix.shape[1]))
    whole_mean[: prior.terms], whole[: prior.terms, : prior.terms] = mean, (covariance + covariance.T) / 2
    return math.log(kind.weight) + log_likelihood, Belief(0.0, kind.extra, prior.terms, whole_mean, whole)


class _Prior(NamedTuple):
    """Precision of the first `terms` terms before anything is finished, and the logarithm of its determinant."""

    terms: int
    precision: Array
    log_determinant: float


@lru_cache(maxsize=256)
def _prior(pair: float, lane: float, shift: float, lanes: tuple[str, ...], knots: int) -> _Prior:
    """Prior of the terms: independent, except for those of the shift, which fades exponentially. `lanes` holds kinds of lanes."""
    steady = [pair] + [lane if kind == "crew" else ARM_SPREAD for kind in lanes]
    size = len(steady) + (knots if shift else 0)
    prior = np.zeros((size, size))
    prior[: len(steady), : len(steady)] = np.diag(np.square(steady))
    if shift:
        apart = np.abs(np.subtract.outer(np.arange(knots), np.arange(knots))) * _KNOT_MIN
        prior[len(steady) :, len(steady) :] = shift**2 * np.exp(-apart / SHIFT_FADES_MIN)
    precision: Array = np.linalg.inv(prior).astype(np.float64)
    precision.flags.writeable = False
    return _Prior(size, precision, float(np.linalg.slogdet(precision)[1]))
