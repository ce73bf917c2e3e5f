"""Lists in a sentence, chances, and long texts cut short. `dashboard.words` has the other rules for text."""

from __future__ import annotations

import math
from collections.abc import Sequence


def listed(names: Sequence[str]) -> str:
    """Join names as in a sentence: ``A``, ``A and B``, ``A, B and C``.

    Parameters
    ----------
    names
        In the order in which they are named.

    Returns
    -------
    str
        Empty when there are no names.
    """
    return " and ".join([*([", ".join(names[:-1])] if len(names) > 1 else []), *names[-1:]])


def shortened(text: str, most: int) -> str:
    """Cut a long text short, and say how many more characters there are.

    Parameters
    ----------
    text
        The whole text.
    most
        Characters that are kept.

    Returns
    -------
    str
        The text itself where it is no longer than that.
    """
    return text if len(text) <= most else f"{text[:most]} ... ({len(text) - most} more characters)"


def chance_text(probability: float) -> str:
    """A probability, rounded down and never shown as certain: ``93 %``, ``over 99 %``, ``under 1 %``.

    Parameters
    ----------
    probability
        From 0 to 1.

    Returns
    -------
    str
        With its unit.
    """
    percent = math.floor(round(probability * 100, 6))
    if percent >= 100:
        return "over 99 %"
    return f"{percent} %" if percent >= 1 else "under 1 %"
