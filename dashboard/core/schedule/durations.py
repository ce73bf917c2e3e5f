"""Distributions of durations, drawn with common random numbers.

A briefed three-point duration is a beta-PERT: mean (low + 4 likely + high) / 6, shape alpha = 1 + 4 (likely - low) /
(high - low), beta = 6 - alpha. Its variance is (mean - low)(high - mean) / 7, not ((high - low) / 6)^2: D. Vose, "Risk
Analysis" (from memory); `tests/published/` holds the difference against textbook values.

A single value for a duration says that no range was briefed. The duration is then log-logistic: its median is the value, and
the standard deviation of its logarithm is `unbriefed_spread`. Learning (`pace.py`, `replay/learn.py`) uses the same two
moments, so a task scatters when it is drawn as it is taken to have scattered when something is learned from it. Plan pace
uses the value itself. Three equal values, `duration = [15, 15, 15]`, say that a task is timed: it does not scatter, has no
pace and teaches none. `Duration.exact` tells the two apart.

Each task has its own row of uniform numbers, made from the seed and its name alone. Two states that follow each other thus
have the same luck, and percentiles move only when something happened.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Sequence
from functools import lru_cache
from statistics import NormalDist
from typing import Any, NamedTuple

import numpy as np

from dashboard.core.plan.model import Duration
from dashboard.core.schedule.constants import value
from dashboard.core.schedule.float_or_array import Array

_GRID = 4096
TAIL_SHARE = value("TAIL_SHARE")
TAIL_MEAN_OF_RANGE = value("TAIL_MEAN_OF_RANGE")
SHORTEST_TAIL_OF_LIKELY = value("SHORTEST_TAIL_OF_LIKELY")
SCATTER_UNBRIEFED = value("SCATTER_UNBRIEFED")
SCATTER_WHOLE = value("SCATTER_WHOLE")
GRAIN_MIN = value("GRAIN_MIN")
ESTIMATE_SPREAD = value("ESTIMATE_SPREAD")
LEAST_ESTIMATE_MIN = value("LEAST_ESTIMATE_MIN")
STUCK = tuple(math.exp(value("ODD_SPREAD") * NormalDist().inv_cdf(0.5 + third / 12)) for third in (1, 3, 5))


@lru_cache(maxsize=4096)
def uniforms(seed: int, name: str, draws: int) -> Array:
    """Uniform numbers in (0, 1) that belong to a name.

    Parameters
    ----------
    seed : int
    name : str
    draws : int

    Returns
    -------
    array of shape (draws,)
        Read-only.
    """
    row = _generator(seed, name).random(draws)
    np.clip(row, 1e-9, 1 - 1e-9, out=row)
    row.flags.writeable = False
    return row


@lru_cache(maxsize=256)
def normals(seed: int, name: str, draws: int) -> Array:
    """Standard normal numbers that belong to a name.

    Parameters
    ----------
    seed : int
    name : str
    draws : int

    Returns
    -------
    array of shape (draws,)
        Read-only.
    """
    row = _generator(seed, name).standard_normal(draws)
    row.flags.writeable = False
    return row


def _generator(seed: int, name: str) -> np.random.Generator:
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, zlib.crc32(name.encode())])))


@lru_cache(maxsize=1024)
def _beta_tables(alpha: float) -> tuple[Array, Array]:
    """Cumulative distribution of beta(alpha, 6 - alpha) on an even grid, and its inverse on an even grid."""
    x = np.linspace(0.0, 1.0, 4 * _GRID + 1)
    mid = (x[:-1] + x[1:]) / 2
    density = mid ** (alpha - 1) * (1 - mid) ** (5 - alpha)
    cumulative = np.concatenate(([0.0], np.cumsum(density)))
    cumulative /= cumulative[-1]
    inverse = np.interp(np.linspace(0.0, 1.0, _GRID + 1), cumulative, x)
    return cumulative, inverse


def _even(table: Array, at: Array | Any) -> Array:
    """Linear interpolation in a table over [0, 1] with even steps."""
    scaled = np.asarray(at) * (len(table) - 1)
    index = np.minimum(scaled.astype(np.int64), len(table) - 2)
    low = table[index]
    result: Array = low + (scaled - index) * (table[index + 1] - low)
    return result


def unbriefed_spread(likely_min: float) -> float:
    """Standard deviation of the logarithm of a duration that was briefed as a single value, the pace left out.

    A stretch longer than `GRAIN_MIN` counts as several tasks of that length in a row. Part of their scatter is common
    (`SCATTER_WHOLE`: the stretch as a whole was judged too short or too long), and the rest is each task's own and averages
    out, so it matters little how finely a plan is divided into tasks.

    Parameters
    ----------
    likely_min : float

    Returns
    -------
    float
    """
    whole = SCATTER_WHOLE**2
    return math.sqrt(whole + (SCATTER_UNBRIEFED**2 - whole) * _share_of_one_grain(likely_min))


def extra_spread(duration: Duration, extra: float) -> float:
    """The extra scatter of a task, where tasks of `GRAIN_MIN` have `extra`.

    A long stretch that was briefed as a single value counts as several tasks in a row (see `unbriefed_spread`), so its extra
    scatter averages out too. A briefed range is that of the task as a whole.

    Parameters
    ----------
    duration : Duration
    extra : float
        Standard deviation of the logarithm.

    Returns
    -------
    float
        Standard deviation of the logarithm, at most `extra`.
    """
    return extra * math.sqrt(_share_of_one_grain(duration.likely)) if duration.without_range else extra


def _share_of_one_grain(likely_min: float) -> float:
    """Variance of the logarithm of a whole stretch, as a share of that of one grain: its grains vary independently."""
    return GRAIN_MIN / max(likely_min, GRAIN_MIN)


def _alpha_of(duration: Duration) -> float:
    """Shape alpha of the beta-PERT; beta is 6 - alpha."""
    return 1 + 4 * (duration.likely - duration.low) / (duration.high - duration.low)


def pert_mean(duration: Duration) -> float:
    """Mean of the beta-PERT, minutes.

    Parameters
    ----------
    duration
        Taken as a three-point duration; a single value is its own mean.

    Returns
    -------
    float
        Minutes.
    """
    return (duration.low + 4 * duration.likely + duration.high) / 6


@lru_cache(maxsize=4096)
def mean_min(duration: Duration) -> float:
    """Mean of the distribution that a task is drawn from before it begins.

    Parameters
    ----------
    duration
        Of any kind.

    Returns
    -------
    float
        Minutes. That of a single value lies above it, since what it scatters by is a factor.
    """
    if not duration.without_range:
        return pert_mean(duration)
    reach = math.sqrt(3.0) * unbriefed_spread(duration.likely)
    return duration.likely * reach / math.sin(reach)


def quantile(duration: Duration, probability: Array) -> Array:
    """Quantiles of the briefed distribution.

    Parameters
    ----------
    duration : Duration
    probability : array of shape (n,)
        In (0, 1).

    Returns
    -------
    array of shape (n,)
        Minutes.
    """
    if duration.without_range:
        return _log_logistic_left(duration.likely, unbriefed_spread(duration.likely), 0.0, probability)
    if duration.high <= duration.low:
        return np.full_like(probability, duration.likely)
    return duration.low + (duration.high - duration.low) * _even(_beta_tables(_alpha_of(duration))[1], probability)


def probability_of(duration: Duration, minutes: Array) -> Array:
    """Cumulative distribution of a duration with a range, or of a timed one.

    Parameters
    ----------
    duration : Duration
        Not one of a single value.
    minutes : array of shape (n,)

    Returns
    -------
    array of shape (n,)
        Probability that the duration is at most so many minutes.
    """
    if duration.high <= duration.low:
        return (minutes >= duration.likely).astype(np.float64)
    share = np.clip((minutes - duration.low) / (duration.high - duration.low), 0.0, 1.0)
    return _even(_beta_tables(_alpha_of(duration))[0], share)


@lru_cache(maxsize=1024)
def log_moments(duration: Duration) -> tuple[float, float]:
    """Mean and variance of the logarithm of the briefed distribution, in minutes; 0 and 0 for a duration of nothing."""
    if duration.likely <= 0:
        return 0.0, 0.0
    if duration.without_range:
        return math.log(duration.likely), unbriefed_spread(duration.likely) ** 2
    probability = (np.arange(512) + 0.5) / 512
    logs = np.log(np.maximum(quantile(duration, probability), 1e-3))
    return float(logs.mean()), float(logs.var())


@lru_cache(maxsize=4096)
def _stretch(duration: Duration, extra: float) -> tuple[float, float]:
    """Geometric mean in minutes, and the factor on deviations of the logarithm that adds `extra`^2 to their variance."""
    mean, variance = log_moments(duration)
    return math.exp(mean), math.sqrt(1.0 + extra_spread(duration, extra) ** 2 / variance) if variance > 1e-9 else 1.0


def stretched(duration: Duration, minutes: Array, extra: float, *, back: bool = False) -> Array:
    """Minutes spread out about the geometric mean of the briefed distribution.

    The variance of the logarithm grows by the square of `extra_spread`. A narrow briefed range is thus stretched more than a
    wide one, and a timed wait not at all. A log-logistic distribution stays one.

    Parameters
    ----------
    duration : Duration
    minutes : array of shape (n,)
    extra : float
        Standard deviation of the logarithm that is added.
    back : bool
        Undo the stretching instead.

    Returns
    -------
    array of shape (n,)
    """
    if extra == 0.0 or duration.likely <= 0:
        return minutes
    middle, factor = _stretch(duration, extra)
    result: Array = middle * (minutes / middle) ** (1.0 / factor if back else factor)
    return result


@lru_cache(maxsize=4096)
def fresh_draws(duration: Duration, seed: int, name: str, draws: int) -> Array:
    """Durations of a task that has not begun.

    Parameters
    ----------
    duration : Duration
    seed : int
    name : str
        Of the task.
    draws : int

    Returns
    -------
    array of shape (draws,)
        Minutes; read-only.
    """
    row = quantile(duration, uniforms(seed, name, draws))
    row.flags.writeable = False
    return row


class Block(NamedTuple):
    """Draws from `start` up to and without `stop`, which have the same extra scatter and the same share of tasks that stick."""

    start: int
    stop: int
    extra: float
    stick: float = 0.0


@lru_cache(maxsize=1024)
def mixed_draws(duration: Duration, seed: int, name: str, draws: int, blocks: tuple[Block, ...]) -> Array:
    """Durations of a task that has not begun, each block of draws with its extra scatter.

    Parameters
    ----------
    duration, seed, name, draws
        As for `fresh_draws`.
    blocks : tuple of Block
        Together all draws, in order.

    Returns
    -------
    array of shape (draws,)
        Minutes; read-only.
    """
    fresh = fresh_draws(duration, seed, name, draws)
    row = np.concatenate([stretched(duration, fresh[start:stop], extra) for start, stop, extra, _ in blocks])
    if not duration.exact:
        share = np.repeat([block.stick for block in blocks], [block.stop - block.start for block in blocks])
        luck = uniforms(seed, f"{name} sticks", draws)
        sticks = luck < share
        row[sticks] *= np.array(STUCK)[(luck[sticks] / share[sticks] * len(STUCK)).astype(int)]
    row.flags.writeable = False
    return row


def stuck_factor(duration: Duration, worked_min: Array, luck: Array, extra: float, share: float) -> Array:
    """How much longer a task in work takes because something sticks, given that it was not over yet.

    Of the tasks that stick, a third each takes longer by the factors `STUCK`: the middles of the thirds of a half normal
    logarithm with the spread `ODD_SPREAD`. The further a task has got, the likelier it is one of them.

    Parameters
    ----------
    duration : Duration
    worked_min : array of shape (n,)
        At the briefed pace.
    luck : array of shape (n,)
        In (0, 1).
    extra : float
        Extra scatter of the whole duration.
    share : float
        Share of tasks that stick, before they begin.

    Returns
    -------
    array of shape (n,)
        1 where nothing sticks.
    """
    if share <= 0.0 or duration.exact:
        return np.ones_like(luck)
    odds = [*((share / len(STUCK), factor) for factor in STUCK), (1.0 - share, 1.0)]
    likely = np.cumsum([odd * _still_in_work(duration, worked_min / factor, extra) for odd, factor in odds], axis=0)
    place = (luck * likely[-1] > likely[:-1]).sum(axis=0)
    factor: Array = np.array([factor for _, factor in odds])[place]
    return factor


def _still_in_work(duration: Duration, worked: Array, extra: float) -> Array:
    """Probability that a task in which nothing sticks is not over after `worked` minutes."""
    if duration.without_range:
        spread = math.hypot(unbriefed_spread(duration.likely), extra_spread(duration, extra))
        left: Array = 1.0 / (1.0 + (worked / duration.likely) ** (math.pi / (math.sqrt(3.0) * spread)))
        return left
    briefed = stretched(duration, worked, extra, back=True)
    beyond = np.maximum(briefed - duration.high, 0.0)
    tail = TAIL_SHARE * np.exp(-beyond / tail_mean_min(duration))
    still: Array = np.where(briefed < duration.high, 1.0 - (1.0 - TAIL_SHARE) * probability_of(duration, briefed), tail)
    return np.maximum(still, 1e-300)


def tail_mean_min(duration: Duration) -> float:
    """Mean time in minutes by which a task that exceeds its longest briefed duration does so.

    Parameters
    ----------
    duration
        One with a range, or a timed one.

    Returns
    -------
    float
        Minutes, at least 0.5.
    """
    return max(TAIL_MEAN_OF_RANGE * (duration.high - duration.low), SHORTEST_TAIL_OF_LIKELY * duration.likely, 0.5)


def remaining_draws(
    duration: Duration, worked_min: Array | float, uniform: Array, extra: float = 0.0
) -> Array:
    """Minutes that remain of a task in work, given that it was not over after `worked_min`.

    A task in work may outlast its longest briefed duration: one in twenty (`TAIL_SHARE`) does, by an exponential time of mean
    `tail_mean_min`. The remaining time is drawn by inverting the distribution of the whole duration, conditional on having
    got this far. So it has no jump at the longest briefed duration, and beyond that it is exponential.

    A duration without a briefed range is log-logistic, conditional on having got this far. It has no longest duration and
    needs no other tail.

    Parameters
    ----------
    duration : Duration
    worked_min : float or array of shape (draws,)
    uniform : array of shape (draws,)
        In (0, 1).
    extra : float
        Extra scatter of the whole duration, tail included: see `stretched`.

    Returns
    -------
    array of shape (draws,)
        Not negative.
    """
    if duration.without_range:
        spread = math.hypot(unbriefed_spread(duration.likely), extra_spread(duration, extra))
        return _log_logistic_left(duration.likely, spread, worked_min, uniform)
    worked = np.broadcast_to(np.asarray(worked_min, dtype=np.float64), uniform.shape)
    if extra != 0.0:
        briefed = stretched(duration, worked, extra, back=True)
        whole = stretched(duration, briefed + remaining_draws(duration, briefed, uniform), extra)
        return np.maximum(whole - worked, 0.0)
    mean = tail_mean_min(duration)
    body = (1 - TAIL_SHARE) * probability_of(duration, worked)
    beyond = np.maximum(worked - duration.high, 0.0)
    so_far = np.where(worked < duration.high, body, 1 - TAIL_SHARE * np.exp(-beyond / mean))
    survivors = np.maximum(1 - so_far, 1e-300)
    target = so_far + uniform * survivors
    left = survivors * (1 - uniform)
    in_body = target < 1 - TAIL_SHARE
    whole_body = quantile(duration, np.minimum(target / (1 - TAIL_SHARE), 1.0))
    start_of_tail = np.maximum(duration.high, worked)
    reach = np.where(worked < duration.high, TAIL_SHARE, survivors)
    whole_tail = start_of_tail - mean * np.log(np.maximum(left, 1e-300) / reach)
    whole = np.where(in_body, whole_body, whole_tail)
    remaining: Array = np.maximum(whole - worked, 0.0)
    return remaining


def estimate_draws(estimate_min: float, since_min: float, uniform: Array) -> Array:
    """Minutes that remain by an estimate made `since_min` minutes of work ago, given that the task is not over yet.

    What remained when the estimate was made is log-logistic. Its median is the estimate (at least `LEAST_ESTIMATE_MIN`, the
    resolution of a log). The standard deviation of its logarithm is `ESTIMATE_SPREAD`. Nothing
    jumps when the estimate is used up. Long after that, what remains grows in proportion to the time since the estimate; its
    median is then about a tenth of that time.

    Parameters
    ----------
    estimate_min : float
    since_min : float
    uniform : array of shape (draws,)
        In (0, 1).

    Returns
    -------
    array of shape (draws,)
    """
    return _log_logistic_left(max(estimate_min, LEAST_ESTIMATE_MIN), ESTIMATE_SPREAD, since_min, uniform)


def _log_logistic_left(median_min: float, spread: float, since_min: Array | float, uniform: Array) -> Array:
    """What is left of a log-logistic time after `since_min` of it; `spread` is the standard deviation of the logarithm.

    It inverts P(X > x) = 1 / (1 + (x / median)^k) with k = pi / (sqrt(3) spread), conditional on X > since, in closed form.
    Long beyond the median, the median of what is left tends to 2^(1/k) - 1 of the time since.
    """
    k = math.pi / (math.sqrt(3.0) * spread)
    reach = 1.0 + (since_min / median_min) ** k
    whole = median_min * (reach / (1.0 - uniform) - 1.0) ** (1.0 / k)
    left: Array = np.maximum(whole - since_min, 0.0)
    return left


def percentiles(values: Array, percents: Sequence[float]) -> list[float]:
    """Percentiles with linear interpolation between neighbours: the same as numpy's, at less cost for each row.

    Parameters
    ----------
    values : array of shape (draws,)
    percents : sequence of float
        From 0 to 100.

    Returns
    -------
    list of float
        One for each of `percents`.
    """
    places = [percent / 100 * (len(values) - 1) for percent in percents]
    near = [(int(place), min(int(place) + 1, len(values) - 1), place - int(place)) for place in places]
    ordered = np.partition(values, sorted({at for low, high, _ in near for at in (low, high)}))
    return [float(ordered[low] + share * (ordered[high] - ordered[low])) for low, high, share in near]
