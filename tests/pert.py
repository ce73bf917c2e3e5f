"""The spread of a three-point duration, worked out apart from the program."""

from __future__ import annotations

from scipy import stats


def pert_variance(low: float, likely: float, high: float) -> float:
    """Variance of the beta-PERT, square minutes, by scipy's beta distribution."""
    reach = high - low
    return stats.beta(1 + 4 * (likely - low) / reach, 1 + 4 * (high - likely) / reach).var() * reach**2 if reach else 0.0
