"""The continuous ranked probability score (CRPS). Smaller is better; its unit is that of the forecast quantity.

T. Gneiting and A. E. Raftery, "Strictly proper scoring rules, prediction, and estimation", JASA 102:359 (2007) (reference
from memory). `tests/published/test_scores.py` checks both functions against an outside library. The CRPS of a forecast of a
single value is its absolute error, so it can be compared with a forecast that has a spread.
"""

from __future__ import annotations

import math

import numpy as np

from dashboard.core.schedule.float_or_array import Array


def crps_of_sorted(ordered: Array, found: Array) -> Array:
    """CRPS of forecasts that are given as draws: E|X - y| - E|X - X'| / 2 over the sample.

    Parameters
    ----------
    ordered : array of shape (forecasts, draws)
        The draws of each forecast, sorted.
    found : array of shape (forecasts,)
        The actual values.

    Returns
    -------
    array of shape (forecasts,)
    """
    n = ordered.shape[1]
    weights = (2 * np.arange(1, n + 1) - n - 1) / n**2
    scores: Array = np.abs(ordered - found[:, None]).mean(axis=1) - ordered @ weights
    return scores


def crps_lognormal(log_mean: float, log_sd: float, found: float) -> float:
    """CRPS of a log-normal forecast.

    Parameters
    ----------
    log_mean, log_sd : float
        Mean and standard deviation of the logarithm.
    found : float
        The actual value, above zero.

    Returns
    -------
    float
        In the unit of `found`.
    """
    omega = (math.log(found) - log_mean) / log_sd
    mean = math.exp(log_mean + log_sd**2 / 2)
    return found * (2 * _phi(omega) - 1) - 2 * mean * (_phi(omega - log_sd) + _phi(log_sd / math.sqrt(2)) - 1)


def _phi(x: float) -> float:
    return (1 + math.erf(x / math.sqrt(2))) / 2
