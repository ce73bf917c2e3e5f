"""What the draws that are not in time are past: the limit, or what a consumable lasts."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dashboard.core.schedule.expected import SEED
from dashboard.core.schedule.float_or_array import Array
from dashboard.core.suits.budget import Budget, limit_draws

LIMIT = "the limit"
LEAST_SHARE = 1e-9


def shortfall_shares(
    end: Array, limit_pet_min: float, budget: Mapping[tuple[str, str], Budget], now_pet_min: float
) -> dict[tuple[str, str] | None, float]:
    """Share of the draws that are past each bound. One draw may count for several.

    Parameters
    ----------
    end : array of shape (draws,)
        PET minutes.
    limit_pet_min : float
        Planned limit less reserve.
    budget : mapping
        (suit, consumable) -> its budget.
    now_pet_min : float
        From when the use of the suits is drawn.

    Returns
    -------
    dict
        (suit, consumable), or None for the limit -> share from 0 to 1. Without consumables that are never used up.
    """
    shares: dict[tuple[str, str] | None, float] = {None: float(np.mean(end > limit_pet_min))}
    for name, one in budget.items():
        lasts = limit_draws({name: one}, now_pet_min, SEED, len(end))
        if lasts is not None:
            shares[name] = float(np.mean(end > lasts))
    return shares


def short_of(
    end: Array, limit_pet_min: float, budget: Mapping[tuple[str, str], Budget], now_pet_min: float
) -> str | None:
    """What is missing most often for being in time.

    Parameters
    ----------
    end, limit_pet_min, budget, now_pet_min
        As for `shortfall_shares`.

    Returns
    -------
    str or None
        ``the limit``, or a consumable such as ``suit A water``; None: every draw is in time.
    """
    shares = shortfall_shares(end, limit_pet_min, budget, now_pet_min)
    most = max(shares, key=lambda name: shares[name])
    if shares[most] < LEAST_SHARE:
        return None
    return LIMIT if most is None else f"suit {most[0]} {most[1]}"
