"""Minutes as text in the core: whole minutes, rounded in the direction that the caller gives.

`dashboard.words` has the other rules for text.
"""

from __future__ import annotations

import math
from typing import Literal

Towards = Literal["down", "up", "nearest"]
NOISE_DECIMALS = 6


def whole(minutes: float, towards: Towards) -> int:
    """Round to whole minutes. A difference in the seventh decimal or beyond does not change the result.

    Parameters
    ----------
    minutes : float
    towards : 'down', 'up' or 'nearest'
        Halves go up with 'nearest'.

    Returns
    -------
    int
        Minutes.
    """
    clean = round(minutes, NOISE_DECIMALS)
    if towards == "down":
        return math.floor(clean)
    if towards == "up":
        return math.ceil(clean)
    return math.floor(clean + 0.5)


def clock(minutes: float, towards: Towards = "down") -> str:
    """A PET without the word PET: ``2:05``, before PET zero ``-0:05``.

    Parameters
    ----------
    minutes
        PET minutes, negative before PET zero.
    towards
        How to round to whole minutes, see `whole`.

    Returns
    -------
    str
        Hours without a leading zero, minutes with two digits.
    """
    count = whole(minutes, towards)
    hours, rest = divmod(abs(count), 60)
    return f"{'-' if count < 0 else ''}{hours}:{rest:02d}"


def length(minutes: float, towards: Towards = "nearest") -> str:
    """A length of time: ``35 min``, ``1 h 52 min``, ``2 h``.

    Parameters
    ----------
    minutes
        Zero or more; the caller words the direction.
    towards
        How to round to whole minutes, see `whole`.

    Returns
    -------
    str
        With its units.
    """
    hours, rest = divmod(whole(minutes, towards), 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest:02d} min" if rest else f"{hours} h"
