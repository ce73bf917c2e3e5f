"""Distributions of durations: the beta-PERT against scipy, what remains of a task in work, common random numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from dashboard.core.plan.model import Duration
from dashboard.core.schedule.durations import (
    SCATTER_UNBRIEFED,
    SCATTER_WHOLE,
    STUCK,
    TAIL_SHARE,
    Block,
    extra_spread,
    fresh_draws,
    log_moments,
    mean_min,
    mixed_draws,
    normals,
    percentiles,
    pert_mean,
    probability_of,
    quantile,
    remaining_draws,
    stretched,
    stuck_factor,
    tail_mean_min,
    unbriefed_spread,
    uniforms,
)

SHAPES = [(30, 40, 65), (10, 10, 30), (5, 30, 30), (20, 25, 30), (0, 1, 100)]
EVEN = (np.arange(20000) + 0.5) / 20000


def duration(low: float, likely: float, high: float) -> Duration:
    return Duration(low=low, likely=likely, high=high)


SINGLE, TIMED = Duration.model_validate(20), Duration.model_validate([20, 20, 20])


def scipy_single(spread: float = SCATTER_UNBRIEFED):
    """The log-logistic with median 20 whose logarithm has this standard deviation."""
    return stats.fisk(math.pi / (math.sqrt(3) * spread), scale=20)


def scipy_pert(low: float, likely: float, high: float):
    alpha = 1 + 4 * (likely - low) / (high - low)
    return stats.beta(alpha, 6 - alpha, loc=low, scale=high - low)


@pytest.mark.parametrize("points", SHAPES)
def test_a_three_point_duration_is_the_beta_distribution_of_scipy(points):
    """Mean to rounding; probabilities, and quantiles from 0.002 to 0.998, to a thousandth of the range.

    Quantiles are read from a table of 4,096 steps: beyond 0.998 they are coarser, yet never outside low to high.
    """
    ours, theirs = duration(*points), scipy_pert(*points)
    assert pert_mean(ours) == pytest.approx(theirs.mean())
    inner = EVEN[(EVEN > 0.002) & (EVEN < 0.998)]
    assert quantile(ours, inner) == pytest.approx(theirs.ppf(inner), abs=1e-3 * (points[2] - points[0]))
    ends = quantile(ours, np.array([0.0, 1e-9, 1 - 1e-9, 1.0]))
    assert points[0] <= ends.min() and ends.max() <= points[2]
    minutes = np.linspace(points[0], points[2], 997)
    assert probability_of(ours, minutes) == pytest.approx(theirs.cdf(minutes), abs=1e-3)


@pytest.mark.parametrize("points", SHAPES)
def test_draws_pass_for_draws_of_that_distribution(points):
    """Kolmogorov-Smirnov distance of 20,000 draws under the 1 in 1000 bound."""
    drawn = fresh_draws(duration(*points), 7, "T010", 20000)
    assert stats.kstest(drawn, scipy_pert(*points).cdf).statistic < 1.95 / math.sqrt(20000)


def test_three_equal_values_are_a_timed_wait_and_do_not_scatter():
    """Not drawn at all before it begins, whatever the extra scatter; a single value is not taken for it."""
    drawn = fresh_draws(TIMED, 7, "T010", 100)
    assert set(drawn.tolist()) == {20.0}
    assert stretched(TIMED, drawn, 0.3) == pytest.approx(20.0)
    assert probability_of(TIMED, np.array([19.9, 20.0])).tolist() == [0.0, 1.0]
    assert log_moments(TIMED) == pytest.approx((math.log(20), 0.0))
    assert (TIMED.without_range, SINGLE.without_range, duration(10, 20, 30).without_range) == (False, True, False)


@pytest.mark.parametrize("extra", [0.0, 0.20, 0.35])
def test_a_single_value_is_drawn_as_learning_takes_it_to_scatter(extra):
    """The log-logistic of scipy: median the value, log-sd 0.22 and the extra scatter put together; mean, sd, percentiles."""
    theirs = scipy_single(math.hypot(SCATTER_UNBRIEFED, extra))
    drawn = stretched(SINGLE, quantile(SINGLE, EVEN), extra)
    assert drawn == pytest.approx(theirs.ppf(EVEN))
    assert np.median(drawn) == pytest.approx(20.0, rel=1e-3)
    assert (np.log(drawn).mean(), np.log(drawn).std()) == pytest.approx((math.log(20), math.hypot(0.22, extra)), rel=2e-3)
    assert (drawn.mean(), drawn.std()) == pytest.approx((theirs.mean(), theirs.std()), rel=0.02)
    assert log_moments(SINGLE) == pytest.approx((math.log(20), 0.22**2))


@pytest.mark.parametrize("parts", [2, 4, 7])
def test_a_long_single_value_scatters_as_its_parts_and_as_a_whole(parts):
    """Tasks of 20 min in a row, whose scatter averages out but for the part of each that they have in common: scipy's sums.

    The logarithm of the sum has the variance of the common part and a share of that of the rest; to 3 %. Short tasks keep 0.22.
    """
    rng = np.random.default_rng(1)
    common = rng.normal(0, SCATTER_WHOLE, 200_000)
    own = rng.normal(0, math.sqrt(SCATTER_UNBRIEFED**2 - SCATTER_WHOLE**2), (parts, 200_000))
    whole = np.log((20 * np.exp(common + own)).sum(axis=0))
    assert unbriefed_spread(20.0 * parts) == pytest.approx(whole.std(), rel=0.03)
    drawn = quantile(Duration.model_validate(20 * parts), EVEN)
    assert np.log(drawn).std() == pytest.approx(unbriefed_spread(20.0 * parts), rel=2e-3)
    assert unbriefed_spread(20.0) == unbriefed_spread(5.0) == pytest.approx(0.22)


@pytest.mark.parametrize("minutes", [10, 20, 140])
def test_the_extra_scatter_of_a_long_single_value_averages_out_as_its_own_does(minutes):
    """140 min count as seven tasks of 20 min in a row: a seventh of the variance of one; a briefed range stands for its whole."""
    single = Duration(low=minutes, likely=minutes, high=minutes)
    ranged = Duration(low=0.8 * minutes, likely=minutes, high=2 * minutes)
    assert extra_spread(ranged, 0.2) == 0.2
    assert extra_spread(single, 0.2) == pytest.approx(0.2 * math.sqrt(min(1.0, 20 / minutes)))
    drawn = np.log(mixed_draws(single, 1, "T", 40000, (Block(0, 40000, 0.2),)))
    assert drawn.var() == pytest.approx(unbriefed_spread(minutes) ** 2 + extra_spread(single, 0.2) ** 2, rel=0.03)


@pytest.mark.parametrize("duration", [SINGLE, Duration(low=20, likely=30, high=50)], ids=["single value", "range"])
def test_the_share_that_sticks_takes_longer_and_the_others_take_as_long_as_before(duration):
    """A tenth, by the factors of the three thirds; a timed wait never sticks."""
    plain, sticking = (mixed_draws(duration, 1, "T", 40000, (Block(0, 40000, 0.0, share),)) for share in (0.0, 0.1))
    ratio = sticking / plain
    assert {round(one, 6) for one in ratio} == {1.0, *(round(factor, 6) for factor in STUCK)}
    for factor in STUCK:
        assert np.isclose(ratio, factor).mean() == pytest.approx(0.1 / 3, abs=0.004)
    wait = Duration.model_validate([15, 15, 15])
    assert (mixed_draws(wait, 1, "T", 100, (Block(0, 100, 0.0, 0.9),)) == 15.0).all()


@pytest.mark.parametrize("duration", [SINGLE, Duration(low=20, likely=30, high=50)], ids=["single value", "range"])
def test_a_task_in_work_is_the_likelier_one_that_sticks_the_longer_it_lasts(duration):
    """What remains after some work has the distribution of all that sticks or does not, given that it was not over yet."""
    rng, worked = np.random.default_rng(3), 1.4 * duration.likely
    share, n = 0.2, 60000
    factors = np.array([1.0, *STUCK])[rng.choice(4, n, p=[1 - share, *[share / 3] * 3])]
    whole = factors * remaining_draws(duration, np.zeros(n), rng.random(n))
    factor = stuck_factor(duration, np.full(n, worked), rng.random(n), 0.0, share)
    left = factor * remaining_draws(duration, worked / factor, rng.random(n))
    assert (factor > 1).mean() > 1.5 * share
    assert stats.ks_2samp(whole[whole > worked] - worked, left).statistic < 0.03


def test_draws_of_a_single_value_pass_for_draws_of_that_distribution():
    """Kolmogorov-Smirnov distance of 20,000 draws under the 1 in 1000 bound."""
    assert stats.kstest(fresh_draws(SINGLE, 7, "T010", 20000), scipy_single().cdf).statistic < 1.95 / math.sqrt(20000)


@pytest.mark.parametrize("extra", [0.0, 0.35])
@pytest.mark.parametrize("worked", [0.0, 10.0, 20.0, 30.0, 200.0])
def test_what_remains_of_a_single_value_is_that_distribution_given_that_it_was_not_over_yet(worked, extra):
    """P(left > x | worked w) = S(w + x) / S(w), by scipy, long beyond the value too."""
    theirs = scipy_single(math.hypot(SCATTER_UNBRIEFED, extra))
    left = remaining_draws(SINGLE, worked, EVEN, extra)
    for more in np.linspace(0, 60, 30):
        assert (left > more).mean() == pytest.approx(theirs.sf(worked + more) / theirs.sf(worked), abs=1e-3)


def test_a_task_of_a_single_value_that_begins_is_drawn_as_before_it_began():
    """Draw by draw; and the whole only grows as it goes on."""
    assert remaining_draws(SINGLE, 0.0, EVEN) == pytest.approx(quantile(SINGLE, EVEN))
    ends = [worked + remaining_draws(SINGLE, worked, EVEN) for worked in (0.0, 10.0, 19.9, 20.1, 40.0)]
    for sooner, later in zip(ends, ends[1:], strict=False):
        assert (later >= sooner - 1e-6).all()


def test_a_duration_of_nothing_stays_nothing():
    """A mark in the plan, not a task."""
    assert set(fresh_draws(Duration.model_validate(0), 7, "T010", 10).tolist()) == {0.0}


@pytest.mark.parametrize("points", [(30, 40, 65), (10, 10, 30), (20, 25, 30)])
def test_moments_of_the_logarithm_are_those_of_quadrature(points):
    """Mean to 0.001, variance to 1 %."""
    theirs = scipy_pert(*points)
    mean = integrate.quad(lambda x: math.log(x) * theirs.pdf(x), points[0], points[2])[0]
    square = integrate.quad(lambda x: math.log(x) ** 2 * theirs.pdf(x), points[0], points[2])[0]
    ours = log_moments(duration(*points))
    assert ours[0] == pytest.approx(mean, abs=1e-3)
    assert ours[1] == pytest.approx(square - mean**2, rel=1e-2)


@pytest.mark.parametrize("points", [(30, 40, 65), (10, 10, 30), (20, 25, 30)])
def test_extra_scatter_adds_to_the_variance_of_the_logarithm_and_leaves_its_mean(points):
    """By 0.3 squared; order and luck are kept."""
    briefed = duration(*points)
    plain = quantile(briefed, EVEN)
    wide = stretched(briefed, plain, 0.3)
    assert np.log(wide).mean() == pytest.approx(np.log(plain).mean(), abs=2e-3)
    assert np.log(wide).var() == pytest.approx(np.log(plain).var() + 0.09, rel=1e-2)
    assert (np.diff(wide) >= 0).all()
    assert stretched(briefed, wide, 0.3, back=True) == pytest.approx(plain)


@pytest.mark.parametrize("worked", [0.0, 25.0, 45.0, 120.0])
def test_what_remains_with_extra_scatter_is_the_wider_whole_given_that_it_was_not_over_yet(worked):
    """The stretched survival, conditional: P(left > x) = S(back(w + x)) / S(back(w))."""
    points = (30, 40, 65)
    briefed = duration(*points)
    left = remaining_draws(briefed, worked, EVEN, 0.3)
    back = stretched(briefed, np.array([worked, *(worked + np.linspace(0, 150, 30))]), 0.3, back=True)
    survival = whole_survival(points, back)
    for more, expected in zip(np.linspace(0, 150, 30), survival[1:] / survival[0], strict=True):
        assert (left > more).mean() == pytest.approx(expected, abs=2e-3)


def whole_survival(points, minutes):
    """Probability that a task in work lasts longer: one in twenty outlasts `high`, by an exponential time."""
    mean = tail_mean_min(duration(*points))
    body = (1 - TAIL_SHARE) * scipy_pert(*points).sf(np.minimum(minutes, points[2]))
    return body + TAIL_SHARE * np.exp(-np.maximum(minutes - points[2], 0.0) / mean)


@pytest.mark.parametrize("points", [(30, 40, 65), (10, 10, 30), (20, 25, 30)])
@pytest.mark.parametrize("share_worked", [0.0, 0.5, 0.9, 1.0, 1.3])
def test_what_remains_is_the_whole_given_that_it_was_not_over_yet(points, share_worked):
    """P(remaining > x | worked w) = S(w + x) / S(w), for every x on a grid; S from scipy."""
    worked = share_worked * points[2]
    left = remaining_draws(duration(*points), worked, EVEN)
    for more in np.linspace(0, points[2], 40):
        expected = whole_survival(points, worked + more) / whole_survival(points, worked)
        assert (left > more).mean() == pytest.approx(expected, abs=2e-3), more


@pytest.mark.parametrize("worked", [0, 20, 45, 60])
def test_the_mean_that_remains_is_the_integral_of_the_survival(worked):
    """By quadrature; drawn at 20,000 even probabilities."""
    points = (30, 40, 65)
    tail = tail_mean_min(duration(*points))
    up_to_high = integrate.quad(lambda x: float(whole_survival(points, x)), worked, points[2], points=[30.0])[0]
    mean = (up_to_high + TAIL_SHARE * tail) / whole_survival(points, worked)
    assert remaining_draws(duration(*points), worked, EVEN).mean() == pytest.approx(mean, rel=2e-3)


def test_at_its_start_a_task_in_work_has_the_fresh_distribution_but_for_one_in_twenty():
    """The body is the beta-PERT; the rest lies beyond the longest briefed duration."""
    points = (30, 40, 65)
    left = remaining_draws(duration(*points), 0.0, EVEN)
    beyond = left > points[2]
    assert beyond.mean() == pytest.approx(TAIL_SHARE, abs=1e-3)
    assert np.median(left[~beyond]) == pytest.approx(scipy_pert(*points).median(), abs=0.02)


def test_beyond_the_longest_what_remains_has_no_memory():
    """Exponential, mean a quarter of the briefed range, however far beyond."""
    briefed = duration(30, 40, 65)
    assert tail_mean_min(briefed) == pytest.approx(35 / 4)
    at_once, later = (remaining_draws(briefed, worked, EVEN) for worked in (65.0, 165.0))
    assert at_once == pytest.approx(later)
    assert at_once == pytest.approx(stats.expon(scale=35 / 4).ppf(EVEN), rel=1e-6)


def test_nothing_jumps_as_a_task_passes_its_longest_briefed_duration():
    """A second before and a second after, the drawn remainders agree to a few seconds."""
    briefed = duration(30, 40, 65)
    before, after = (remaining_draws(briefed, 65 + s, EVEN) for s in (-1 / 60, 1 / 60))
    assert np.max(np.abs(before - after)[EVEN < 0.999]) < 0.1


def test_a_timed_wait_may_overrun_all_the_same():
    """One in twenty outlasts it; the rest end on it."""
    left = remaining_draws(TIMED, 5.0, EVEN)
    assert (left == 15.0).mean() == pytest.approx(1 - TAIL_SHARE, abs=1e-3)
    assert left.max() > 15.0


def test_the_longer_it_has_been_in_work_the_sooner_the_median_end_up_to_its_longest():
    """And the end itself moves later, draw by draw: luck is kept, not thrown again."""
    briefed = duration(30, 40, 65)
    ends = [worked + remaining_draws(briefed, worked, EVEN) for worked in (0.0, 20.0, 40.0, 60.0, 80.0)]
    for sooner, later in zip(ends, ends[1:], strict=False):
        assert (later >= sooner - 1e-6).all()


@pytest.mark.parametrize("percents", [(10, 90), (0, 50, 100), (10, 50, 90)])
def test_percentiles_are_those_of_numpy(percents):
    """To rounding, whatever the number of draws."""
    for count in (1, 7, 5000):
        row = np.array(fresh_draws(duration(30, 40, 65), 7, "T010", count))
        assert percentiles(row, percents) == pytest.approx(np.percentile(row, percents))


def test_numbers_belong_to_the_seed_and_the_name():
    """The same name gives the same row; another name or seed gives an unrelated one."""
    row = uniforms(1, "T010", 4000)
    assert row is uniforms(1, "T010", 4000) or (row == uniforms(1, "T010", 4000)).all()
    for other in (uniforms(1, "T020", 4000), uniforms(2, "T010", 4000)):
        assert abs(np.corrcoef(row, other)[0, 1]) < 0.06
    assert stats.kstest(row, "uniform").pvalue > 1e-4
    assert stats.kstest(normals(1, "T010", 4000), "norm").pvalue > 1e-4


def test_rows_cannot_be_written_to():
    """They are shared between states."""
    with pytest.raises(ValueError, match="read-only"):
        uniforms(1, "T010", 10)[0] = 0.5
    with pytest.raises(ValueError, match="read-only"):
        fresh_draws(duration(1, 2, 3), 1, "T010", 10)[0] = 0.5


def test_what_remains_of_a_log_normal_is_not_our_rule():
    """Our rule is a beta with an exponential tail; a log-normal of the same median keeps a heavier tail.

    Said here so that nobody checks our remainders against the closed forms of a truncated log-normal.
    """
    points = (30, 40, 65)
    theirs = scipy_pert(*points)
    sigma = optimize.brentq(
        lambda s: stats.lognorm(s, scale=theirs.median()).std() - theirs.std(), 0.01, 1.0
    )
    law = stats.lognorm(sigma, scale=theirs.median())
    assert law.sf(90) / law.sf(65) != pytest.approx(whole_survival(points, 90) / whole_survival(points, 65), rel=0.2)


@pytest.mark.parametrize("minutes", [20, 90, [30, 40, 65], [15, 15, 15]])
def test_the_mean_of_a_task_is_that_of_what_is_drawn(minutes):
    """Of a single value it lies above it, since it scatters by a factor; to 0.5 %."""
    briefed = Duration.model_validate(minutes)
    assert mean_min(briefed) == pytest.approx(float(quantile(briefed, EVEN).mean()), rel=5e-3)
