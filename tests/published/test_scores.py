"""Our scores and learning against outside libraries.

COMPUTED: the CRPS by scoringrules (plain estimator "nrg", and its closed form for a log-normal), the log-normal fit and its
shrinking by scipy.
"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
import scoringrules
from scipy import optimize, stats

from replay.crps import crps_lognormal, crps_of_sorted
from replay.learn import (
    ACTIVITY_SPREAD,
    ALL_SPREAD,
    OBSERVED,
    RUN_SPREAD,
    TASK_SPREAD,
    _Model,
    fit,
    observations,
)
from tests.replay.test_learn import HALF_AS_MUCH_AGAIN


@pytest.mark.parametrize("draws", [1, 2, 25, 800])
def test_crps_of_draws(draws: int):
    """Equal to scoringrules, for what lies inside the draws and far outside them."""
    rng = np.random.default_rng(draws)
    forecasts = np.sort(rng.gamma(3.0, 20.0, (6, draws)), axis=1)
    found = np.array([0.0, 30.0, 55.0, 60.0, 80.0, 900.0])
    outside = scoringrules.crps_ensemble(found, forecasts, estimator="nrg")
    assert crps_of_sorted(forecasts, found) == pytest.approx(outside, rel=1e-9)


@pytest.mark.parametrize(
    ("median", "sd", "found"), [(30, 0.2, 33), (30, 0.05, 90), (12, 0.6, 1.5), (100, 0.3, 100)]
)
def test_crps_of_a_log_normal(median: float, sd: float, found: float):
    """Equal to scoringrules, and to a million draws within one part in a hundred."""
    ours = crps_lognormal(math.log(median), sd, found)
    assert ours == pytest.approx(float(scoringrules.crps_lognormal(found, math.log(median), sd)), rel=1e-9)
    draws = np.sort(median * np.exp(sd * np.random.default_rng(1).standard_normal(1_000_000)))
    assert ours == pytest.approx(crps_of_sorted(draws[None, :], np.array([found]))[0], rel=0.01)


def rows(ratios: list[float], scatter: float = 0.2) -> pd.DataFrame:
    """One kind of work, one task, a run each."""
    made = [
        (f"r{i}", "pool", "s", "T1", "work", 30.0, 30 * math.exp(r), r, scatter, 20.0, 50.0)
        for i, r in enumerate(ratios)
    ]
    return pd.DataFrame(made, columns=list(OBSERVED))


def test_with_many_runs_the_fit_is_the_log_normal_fit_of_scipy():
    """Median and spread of 4000 ratios, each of a run of its own: the pace of a run and the scatter together are scipy's."""
    ratios = np.random.default_rng(3).normal(math.log(1.3), 0.25, 4000)
    shape, _, scale = stats.lognorm.fit(np.exp(ratios), floc=0)
    one = fit(rows(ratios.tolist())).tasks["s", "T1"]
    assert math.exp(one.log_mean) == pytest.approx(scale, rel=0.01)
    assert math.hypot(one.scatter, RUN_SPREAD) == pytest.approx(shape, rel=0.03)


def test_the_shrinking_is_the_most_probable_value():
    """The mean of the model equals the maximum of the posterior density, found by scipy from normal densities alone."""
    seen = rows([0.4, 0.1, 0.3])
    model = _Model(seen)
    solved = model._solved(model.briefed, np.ones(3))

    def minus_log_posterior(x: np.ndarray) -> float:
        all_, kind, task, runs = x[0], x[1], x[2], x[3:]
        told = stats.norm.logpdf(seen["log_ratio"], all_ + kind + task + runs, 0.2).sum()
        prior = (
            stats.norm.logpdf(all_, 0, ALL_SPREAD)
            + stats.norm.logpdf(kind, 0, ACTIVITY_SPREAD)
            + stats.norm.logpdf(task, 0, TASK_SPREAD)
            + stats.norm.logpdf(runs, 0, RUN_SPREAD).sum()
        )
        return -(told + prior)

    best = optimize.minimize(minus_log_posterior, np.zeros(6), tol=1e-10).x
    assert solved.mean[:3] == pytest.approx(best[:3], abs=1e-4)
    assert solved.run_mean == pytest.approx(best[3:], abs=1e-4)


def test_taking_the_runs_out_first_changes_nothing():
    """The answer, and how sure it is, are those of the whole system solved at once by numpy."""
    seen = observations(HALF_AS_MUCH_AGAIN)
    model = _Model(seen)
    solved = model._solved(model.briefed, np.ones(len(seen)))
    terms, runs, at = len(model.prior), len(model.runs), np.arange(len(seen))
    design = np.zeros((len(seen), terms + runs))
    for place in range(model.columns.shape[1]):
        design[at, model.columns[:, place]] += model.counts[:, place]
    design[at, terms + model.run] = 1
    weight = 1 / model.briefed**2
    whole = np.linalg.inv(
        (design.T * weight) @ design + np.diag(np.concatenate([model.prior, np.full(runs, RUN_SPREAD**-2)]))
    )
    mean = whole @ (design.T @ (weight * model.found))
    assert solved.mean == pytest.approx(mean[:terms], abs=1e-9)
    assert solved.run_mean == pytest.approx(mean[terms:], abs=1e-9)
    assert solved.covariance == pytest.approx(whole[:terms, :terms], abs=1e-9)
