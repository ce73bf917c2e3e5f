"""The pace of this sortie, learned from what is finished, for each kind of work.

Kinds of work: hands-on work, legs, boxed stops and arm tasks. A boxed stop has no pace (`boxed.py`), and neither has a timed
wait.

Model: the logarithm of (actual / briefed) of a finished task of the crew is the sum of a pace that all its work shares, the
pace of its kind of work, and scatter. One task in twenty is odd: something stuck, or the log is wrong, and its length says
little of the pace (`_weigh`). On hands-on work there is a deviation of its lane too, and there may be a shift. After
`SHIFT_FADES_MIN`, e^-1 of it is left: of one that was there at PET zero and is then gone for good (a slow start), or of one
that comes and goes in the course of the sortie. Kinds of work thus share what they
learn in part only: what two legs show moves the common pace, and so hands-on work, by a small part (partial pooling: A. Gelman
and J. Hill, "Data Analysis Using Regression and Multilevel/Hierarchical Models", chapter 12, from memory). A joint task counts
in part for each of its lanes. Arm tasks share nothing with the crew's.

The pace is not one belief but several. It is not known beforehand how far the pace of hands-on work may lie from "as
briefed", whether it shifts, and how much tasks scatter beyond their briefed ranges. `KINDS` lists the kinds of sortie that
are thought possible, each with its weight before anything is finished. For each kind the model is linear with normal errors;
without odd tasks its answer is exact. The kinds are then weighed by how well each predicted the finished tasks: C. Bishop,
"Pattern Recognition and Machine Learning", sections 3.3 and 3.5 (from memory). Each draw belongs to one kind. With few
finished tasks the answer stays wide and near "as briefed".

Centre: whole sorties end near their brief (mean of the log ratio 0.022 over 41 of them), although the ranges of single tasks
reach further up than down and lanes wait for each other. So before anything is finished the common pace is such that the
whole is about as long as that; a briefed range tells how its task scatters. See `centre_log`. What is lost by waiting is
taken back from work in single lanes only, since joint work waits for nothing (`waiting_log`).

All spreads and weights stand in `constants.py`, each with what sets it.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from statistics import NormalDist
from typing import NamedTuple

import numpy as np

from dashboard.core.events.far_off import FAR_OFF_MIN
from dashboard.core.plan.model import Plan, Task
from dashboard.core.record.lifecycle import DONE
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.boxed import mean_overrun_min
from dashboard.core.schedule.constants import value
from dashboard.core.schedule.durations import Block, extra_spread, log_moments, mean_min, normals
from dashboard.core.schedule.float_or_array import Array

COMMON = value("COMMON_SPREAD")
NARROW, WIDE = value("HANDS_SPREAD"), value("WIDE_SPREAD")
LEG_SPREAD = value("LEG_SPREAD")
LANE_SPREAD = value("LANE_SPREAD")
ARM_SPREAD = value("ARM_SPREAD")
SHIFT_SPREAD = value("SHIFT_SPREAD")
START_SHIFT_SPREAD = value("START_SHIFT_SPREAD")
SHIFT_FADES_MIN = value("SHIFT_FADES_MIN")
LEAST_SCATTER = value("LEAST_SCATTER")
ODD_SPREAD = value("ODD_SPREAD")
LEAST_OF_LIKELY = value("LEAST_OF_LIKELY")
WHOLE_SORTIE_LOG = value("WHOLE_SORTIE_LOG")
WAITING_LOG = value("WAITING_LOG")
_KNOT_MIN = 30.0
_SQRT_2 = math.sqrt(2.0)

HANDS, LEG, BOXED, ARM = "hands-on work", "legs", "boxed stops", "arm tasks"
_CREW_TERMS = ("common", HANDS, LEG)


class Kind(NamedTuple):
    """A kind of sortie that is thought possible.

    Parameters
    ----------
    common, hands, leg, lane, shift : float
        Standard deviations of the logarithm: of the pace that the crew's work shares, of the paces of hands-on work and of
        legs beside it, of a crew lane's deviation, and of the shift of hands-on work (0: none).
    extra : float
        Extra scatter of each task, a standard deviation of the logarithm too.
    weight : float
        Before anything is finished; the weights of all kinds add up to 1.
    centred : bool
        Whether the crew's work takes as long as its likely lengths on average; else each task keeps its briefed mean.
    settles : bool
        Whether the shift is there at PET zero and fades for good; else it comes and goes.
    odd : float
        Share of finished tasks that are odd: their length says little about the pace.
    stick : float
        Share of the tasks ahead that stick and take longer.
    """

    common: float
    hands: float
    leg: float
    lane: float
    shift: float
    extra: float
    weight: float
    centred: bool = True
    settles: bool = False
    odd: float = 0.0
    stick: float = 0.0


class _Day(NamedTuple):
    """How the hands-on work of a kind of sortie goes; fields as in `Kind`."""

    hands: float
    shift: float
    settles: bool
    weight: float


_ODD = (
    _Day(WIDE, 0.0, False, value("WIDE_WEIGHT")),
    _Day(NARROW, START_SHIFT_SPREAD, True, value("START_SHIFT_WEIGHT")),
    _Day(NARROW, SHIFT_SPREAD, False, value("SHIFT_WEIGHT")),
)
_DAYS = (_Day(NARROW, 0.0, False, 1.0 - sum(day.weight for day in _ODD)), *_ODD)


class _Tasks(NamedTuple):
    """How the tasks of a kind of sortie scatter; fields as in `Kind`."""

    extra: float
    odd: float
    stick: float
    weight: float


_LOOSE = (
    _Tasks(value("SCATTER_WIDE"), value("ODD_SHARE"), 0.0, value("SCATTER_WIDE_WEIGHT")),
    _Tasks(value("SCATTER_WIDE"), value("ODD_SHARE_STICKING"), value("STICKING_SHARE"), value("STICKING_WEIGHT")),
)
_TASKS = (_Tasks(0.0, value("ODD_SHARE"), 0.0, 1.0 - sum(tasks.weight for tasks in _LOOSE)), *_LOOSE)
KINDS = tuple(
    Kind(
        COMMON, day.hands, LEG_SPREAD, LANE_SPREAD, day.shift, tasks.extra, day.weight * tasks.weight, settles=day.settles,
        odd=tasks.odd, stick=tasks.stick,
    )
    for day, tasks in product(_DAYS, _TASKS)
)


def kind_of_work(task: Task, lanes: Collection[str], crew: Collection[str]) -> str:
    """The kind of work that a task is.

    Parameters
    ----------
    task
        Of the plan, or added.
    lanes
        The lanes that do it.
    crew
        The crew lanes of the plan.

    Returns
    -------
    str
        `HANDS`, `LEG`, `BOXED` or `ARM`. What no crew lane takes part in is an arm task, unless it is a boxed stop.
    """
    if task.boxed:
        return BOXED
    if not set(lanes) & set(crew):
        return ARM
    return HANDS if task.leg is None else LEG


class Belief(NamedTuple):
    """What the finished tasks say if the sortie is of one kind.

    Parameters
    ----------
    weight : float
        Probability of the kind.
    extra : float
        Extra scatter of each task.
    stick : float
        Share of the tasks ahead that stick.
    terms : int
        Only the first so many terms may differ from 0: all of them with a shift, all but those of the shift without.
    mean : array of shape (all terms,)
    covariance : array of shape (all terms, all terms)
    """

    weight: float
    extra: float
    stick: float
    terms: int
    mean: Array
    covariance: Array


class PaceRead(NamedTuple):
    """What is believed about the pace of a lane, as a factor on the briefed lengths of what remains.

    Parameters
    ----------
    factor : float
        The typical one; above 1 the work takes longer than briefed.
    p10, p90 : float
        80 % of the belief lie between the two.
    tasks : int
        Finished tasks of the lane that say something about it.
    """

    factor: float
    p10: float
    p90: float
    tasks: int

    @property
    def told(self) -> bool:
        """Whether the pace can be told from the brief: 80 % of the belief lie on one side of it."""
        return self.tasks > 0 and not self.p10 <= 1.0 <= self.p90


@dataclass(frozen=True)
class Pace:
    """Belief about the pace: terms, which are logarithms of factors on what remains.

    The terms are the common pace of the crew, hands-on work, legs, each lane, and the shift at every half hour of PET.

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
    centre : float or None
        A logarithm beside which the terms are (see `centre_log`); None: they are beside the briefed distributions.
    """

    kinds: Mapping[str, str]
    beliefs: tuple[Belief, ...]
    finished: dict[str, int]
    now_pet_min: float
    knots: int
    centre: float | None

    @property
    def crew(self) -> tuple[str, ...]:
        """The crew lanes."""
        return tuple(lane for lane, kind in self.kinds.items() if kind == "crew")

    def centre_of(self, task: Task, lanes: Collection[str]) -> float:
        """What the length of a task is centred by, beside its briefed distribution.

        Parameters
        ----------
        task
            Of the plan, or added.
        lanes
            The lanes that do it.

        Returns
        -------
        float
            A logarithm; 0 for what is neither hands-on work nor a leg.
        """
        return _centre_of(self.centre, kind_of_work(task, lanes, self.crew), lanes, self.crew)

    @property
    def first_shift(self) -> int:
        """Place of the first term of the shift."""
        return len(_CREW_TERMS) + len(self.kinds)

    def row(self, lanes: Sequence[str], work: str | None = None) -> Array:
        """Weights of the terms in the pace of a task, the shift left out.

        Parameters
        ----------
        lanes
            Lanes of the plan that do the task. Where a crew lane is among them, lanes of other kinds have no weight.
        work
            `HANDS`, `LEG` or `ARM`; by default hands-on work of the crew, or arm tasks where no crew lane is named.

        Returns
        -------
        array of shape (terms,)
            In the order of the terms, with zeros for the shift. A new array.
        """
        return _row(self.kinds, self.knots, lanes, work or (HANDS if set(lanes) & set(self.crew) else ARM))

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

    def _row_ahead(self, lanes: Sequence[str], work: str | None) -> Array:
        """As `row`, with the shift averaged over what it covers from now on."""
        row = self.row(lanes, work)
        if row[_CREW_TERMS.index(HANDS)]:
            ahead = min(math.ceil(self.now_pet_min / _KNOT_MIN), self.knots - 1)
            row[self.first_shift + ahead :] = 1.0 / (self.knots - ahead)
        return row

    def factor(self, lane: str, work: str | None = None) -> float:
        """Typical factor on the durations that remain in a lane; 1 is as briefed.

        Parameters
        ----------
        lane
            A lane of the plan.
        work
            As for `row`.

        Returns
        -------
        float
            Above 1: the work that remains takes longer than briefed.
        """
        row = self._row_ahead([lane], work)
        return math.exp(float(row @ self.mean))

    def read(self, lane: str) -> PaceRead:
        """The pace of a lane with how sure it is. Number and evidence come from one belief.

        Parameters
        ----------
        lane
            A lane of the plan: hands-on work of a crew lane, arm tasks of others.

        Returns
        -------
        PaceRead
            Its middle is `factor`.
        """
        row = self._row_ahead([lane], None)
        parts = tuple(
            (b.weight, float(row @ b.mean), math.sqrt(float(row @ b.covariance @ row) + 1e-12)) for b in self.beliefs
        )
        p10, p90 = (math.exp(_quantile_of_mixture(parts, share)) for share in (0.1, 0.9))
        return PaceRead(self.factor(lane), p10, p90, self.finished[lane])

    def blocks(self, draws: int) -> tuple[Block, ...]:
        """Which draws have which extra scatter, and which share of tasks that stick, in order.

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
            Block(columns.start, columns.stop, belief.extra, belief.stick)
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
        steady, found = self.first_shift, list[slice]()
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
        names = [*_CREW_TERMS, *self.kinds, *(f"shift at {k}" for k in range(self.knots))]
        rows = [normals(seed, f"pace of {name}", draws) for name in names]
        drawn = np.zeros((len(names), draws))
        for belief, columns in zip(self.beliefs, self._columns(draws), strict=True):
            n = belief.terms
            root = np.linalg.cholesky(belief.covariance[:n, :n] + 1e-12 * np.eye(n))
            drawn[:n, columns] = belief.mean[:n, None] + root @ np.array([row[columns] for row in rows[:n]])
        return drawn


@lru_cache(maxsize=256)  # lanes with the same evidence ask for the same quantile
def _quantile_of_mixture(parts: tuple[tuple[float, float, float], ...], share: float) -> float:
    """Quantile of a mixture of normals (weight, mean, deviation), by bisection between those of its parts."""
    low, high = (end(NormalDist(mean, deviation).inv_cdf(share) for _, mean, deviation in parts) for end in (min, max))
    scaled = [(weight, mean, deviation * _SQRT_2) for weight, mean, deviation in parts]
    for _ in range(40):
        middle, below = (low + high) / 2, 0.0
        for weight, mean, scale in scaled:
            below += weight * (0.5 * (1.0 + math.erf((middle - mean) / scale)))
        low, high = (middle, high) if below < share else (low, middle)
    return (low + high) / 2


def _centre_of(centre: float | None, work: str, lanes: Collection[str], crew: Collection[str]) -> float:
    return 0.0 if centre is None or work not in (HANDS, LEG) else centre - waiting_log(lanes, crew)


def _row(kinds: Mapping[str, str], knots: int, lanes: Sequence[str], work: str) -> Array:
    names = list(kinds)
    row = np.zeros(len(_CREW_TERMS) + len(names) + knots)
    crew = [lane for lane in lanes if kinds[lane] == "crew"]
    if work != ARM:
        row[0] = row[_CREW_TERMS.index(work)] = 1.0
    sharing = crew or list(lanes)
    for lane in sharing if work != LEG else ():
        row[len(_CREW_TERMS) + names.index(lane)] += 1.0 / len(sharing)
    return row


def _shift_at(pet_min: float, knots: int) -> tuple[int, float]:
    at = min(max(pet_min, 0.0) / _KNOT_MIN, knots - 1.0)
    before = min(int(at), max(knots - 2, 0))
    return before, at - before


def says_something_about_pace(run: TaskRun) -> bool:
    """Whether it ran its course: it is done, its start is known, no trim or extend set its length, and its kind has a pace.

    Parameters
    ----------
    run
        A task of a record.

    Returns
    -------
    bool
        False also for a timed wait, a boxed stop, and a task with no time in work.
    """
    if run.length_set or run.task.duration.exact or run.task.boxed:
        return False
    return run.state == DONE and run.start_pet_min is not None and run.worked_before_min > 0


def centre_log(plan: Plan) -> float:
    """Where the common pace lies before anything is finished, so that the whole sortie is about as long as sorties mostly are.

    It takes back what the means of the briefed ranges lie above the likely lengths, and what boxed stops mostly run over. It
    adds what whole sorties run over their brief (`WHOLE_SORTIE_LOG`). It is one figure for the whole
    plan: a task that was briefed with a long tail keeps it.

    Parameters
    ----------
    plan
        As briefed.

    Returns
    -------
    float
        A logarithm; 0 without hands-on work and legs of the crew.
    """
    crew = plan.crew_lane_ids()
    of_crew = [t for t in plan.tasks if set(t.lanes) & set(crew) and not t.get_ahead]
    work = [t for t in of_crew if not t.boxed]
    likely = sum(task.likely_min for task in work)
    if likely <= 0:
        return 0.0
    boxed = [t.likely_min for t in of_crew if t.boxed]
    over = math.expm1(WHOLE_SORTIE_LOG) * (likely + sum(boxed)) - sum(mean_overrun_min(minutes) for minutes in boxed)
    return math.log(max(likely + over, LEAST_OF_LIKELY * likely) / sum(mean_min(task.duration) for task in work))


def waiting_log(lanes: Collection[str], crew: Collection[str]) -> float:
    """What is taken from the length of a task because lanes that work alone wait for each other before joint work.

    Joint work waits for nothing, and what remains late in a sortie is often joint.

    Parameters
    ----------
    lanes
        The lanes that do the task.
    crew
        The crew lanes of the plan.

    Returns
    -------
    float
        A logarithm: `WAITING_LOG` where some of the crew has no part in it, else 0.
    """
    return 0.0 if set(crew) <= set(lanes) else WAITING_LOG


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
    crew = record.plan.crew_lane_ids()
    now = max(0.0, record.pet_min)
    limit_min = record.plan.sortie.limit
    knots = math.ceil(min(max(limit_min, now), limit_min + FAR_OFF_MIN) / _KNOT_MIN) + 1
    first_shift = len(_CREW_TERMS) + len(lanes)
    centre = centre_log(record.plan) if all(kind.centred for kind in kinds) else None
    rows, seen, scatter, share = [], [], [], []
    finished = dict.fromkeys(lanes, 0)
    for run in _as_finished(record) if record.pet_zero_doubt is None else ():
        if not says_something_about_pace(run) or run.task.likely_min <= 0:
            continue
        log_mean, log_variance = log_moments(run.task.duration)
        work = kind_of_work(run.task, run.lanes, crew)
        row = _row(lanes, knots, run.lanes, work)
        if work == HANDS:
            before, towards = _shift_at(((run.start_pet_min or 0.0) + (run.finish_pet_min or 0.0)) / 2, knots)
            row[first_shift + before] += 1.0 - towards
            row[first_shift + min(before + 1, knots - 1)] += towards
        rows.append(row)
        seen.append(math.log(run.worked_before_min) - log_mean - _centre_of(centre, work, run.lanes, crew))
        scatter.append(max(log_variance, LEAST_SCATTER**2))
        share.append(extra_spread(run.task.duration, 1.0) ** 2)
        for lane in run.lanes:
            finished[lane] += 1
    matrix = np.array(rows).reshape(len(rows), first_shift + knots)
    noises = np.array(scatter) + np.square([[kind.extra] for kind in kinds]) * np.array(share)
    log_weights, beliefs = _weigh(kinds, tuple(lanes.values()), knots, matrix, np.array(seen), noises)
    weights = np.exp(log_weights - log_weights.max())
    weights /= weights.sum()
    known = tuple(b._replace(weight=float(weight)) for weight, b in zip(weights, beliefs, strict=True))
    return Pace(lanes, known, finished, now, knots, centre)


def _as_finished(record: Record) -> list[TaskRun]:
    """The tasks in the order in which they were finished; those that are not come last."""
    return sorted(record.runs.values(), key=lambda run: math.inf if run.finish_pet_min is None else run.finish_pet_min)


def _weigh(
    kinds: Sequence[Kind], lanes: tuple[str, ...], knots: int, matrix: Array, seen: Array, noises: Array
) -> tuple[Array, list[Belief]]:
    """For each kind: its log weight after the finished tasks, and the terms given that kind. Tasks are taken one by one.

    `seen` holds for each task its logarithm less the centre, and `noises` for each kind the variance of the scatter of each task.
    A task is ordinary, or it is odd and scatters by `ODD_SPREAD` more. The belief after it is the mixture of the two cases,
    weighted by how likely each makes its length. It is replaced by the normal of the same mean and covariance.
    """
    priors = [_prior(kind._replace(extra=0.0, weight=0.0, odd=0.0, stick=0.0), lanes, knots) for kind in kinds]
    mean, covariance = np.zeros((len(kinds), matrix.shape[1])), np.array([prior.covariance for prior in priors])
    log_weight = np.log([kind.weight for kind in kinds])
    with np.errstate(divide="ignore"):  # log(0) for kinds without odd tasks
        log_share, log_rest = np.log([kind.odd for kind in kinds]), np.log([1.0 - kind.odd for kind in kinds])
    for row, value_seen, noise in zip(matrix, seen, noises.T, strict=True):
        reach = covariance @ row
        ordinary = reach @ row + noise
        odd, off = ordinary + ODD_SPREAD**2, value_seen - mean @ row
        log_ordinary = log_rest - 0.5 * (off**2 / ordinary + np.log(ordinary))
        log_odd = log_share - 0.5 * (off**2 / odd + np.log(odd))
        log_both = np.logaddexp(log_ordinary, log_odd)
        log_weight = log_weight + log_both
        is_odd = np.exp(log_odd - log_both)
        gain = (1.0 - is_odd) / ordinary + is_odd / odd
        apart = is_odd * (1.0 - is_odd) * (off * (1.0 / ordinary - 1.0 / odd)) ** 2
        mean = mean + reach * (gain * off)[:, None]
        covariance = covariance + (apart - gain)[:, None, None] * (reach[:, :, None] * reach[:, None, :])
    beliefs = [
        Belief(0.0, kind.extra, kind.stick, prior.terms, mean[i], covariance[i])
        for i, (kind, prior) in enumerate(zip(kinds, priors, strict=True))
    ]
    return log_weight, beliefs


class _Prior(NamedTuple):
    """Covariance of all terms before anything is finished; only the first `terms` differ from 0."""

    terms: int
    covariance: Array


@lru_cache(maxsize=256)
def _prior(kind: Kind, lanes: tuple[str, ...], knots: int) -> _Prior:
    """Prior of the terms: independent, except for those of the shift, which fades exponentially. `lanes` holds kinds of lanes."""
    steady = [kind.common, kind.hands, kind.leg] + [kind.lane if name == "crew" else ARM_SPREAD for name in lanes]
    size = len(steady) + knots
    prior: Array = np.zeros((size, size))
    prior[: len(steady), : len(steady)] = np.diag(np.square(steady))
    if kind.shift:
        apart = np.abs(np.subtract.outer(np.arange(knots), np.arange(knots))) * _KNOT_MIN
        since_zero = np.exp(-np.arange(knots) * _KNOT_MIN / SHIFT_FADES_MIN)
        shape = np.outer(since_zero, since_zero) + 1e-6 * np.eye(knots) if kind.settles else np.exp(-apart / SHIFT_FADES_MIN)
        prior[len(steady) :, len(steady) :] = kind.shift**2 * shape
    prior.flags.writeable = False
    return _Prior(size if kind.shift else len(steady), prior)
