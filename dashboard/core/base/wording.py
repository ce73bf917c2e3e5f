"""Lists in a sentence, and long texts cut short. `dashboard.words` has the other rules for text."""

from __future__ import annotations

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
