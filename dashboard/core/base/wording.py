"""Lists in a sentence, chances, long texts cut short, and what a value of JSON is. `dashboard.words` has the other rules."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any


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


def kind_of_value(value: Any) -> str:
    """Say what a value of JSON is, for people who do not know the names of Python's types.

    Parameters
    ----------
    value
        As it was decoded.

    Returns
    -------
    str
        For instance ``a number``.
    """
    if value is None:
        return "nothing (null)"
    if isinstance(value, bool):
        return "true or false"
    if isinstance(value, Mapping):
        return "an object"
    if isinstance(value, str):
        return "text"
    return "a list" if isinstance(value, list) else "a number"


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
