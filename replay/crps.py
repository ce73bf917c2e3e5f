"""The continuous ranked probability score (CRPS), smaller is better, in the unit of what is forecast.

T. Gneiting and A. E. Raftery, "Strictly proper scoring rules, prediction, and estimation", JASA 102:359 (2007) (reference
from memory); `tests/published/test_scores.py` checks both forms against an outside library. The score of a forecast that
gives one value is its absolute error, so a plain forecast can be set beside one with a spread.
"""

from __future__ import annotations

import math

import numpy as np

from dashboard.core.schedule.float_or_array import Array


def crps_of_sorted(ordered: Array, found: Array) -> Array:
    """CRPS of each row of sorted draws: E|X - y| - E|X - X'| / 2 over the sample itself (the plain estimator).

    Parameters
    ----------
    ordered : array
        One row a forecast, its draws in order.
    found : array
        What happened, one value a row.
    """
    n = ordered.shape[1]
    weights = (2 * np.arange(1, n + 1) - n - 1) / n**2
    scores: Array = np.abs(ordered - found[:, None]).mean(axis=1) - ordered @ weights
    return scores


def crps_lognormal(log_mean: float, log_sd: float, found: float) -> float:
    """CRPS of a log-normal forecast: its logarithm has this mean and standard deviation; `found` above zero."""
    omega = (math.log(found) - log_mean) / log_sd
    mean = math.exp(log_mean + log_sd**2 / 2)
    return found * (2 * _phi(omega) - 1) - 2 * mean * (_phi(omega - log_sd) + _phi(log_sd / math.sqrt(2)) - 1)


def _phi(x: float) -> float:
    return (1 + math.erf(x / math.sqrt(2))) / 2
