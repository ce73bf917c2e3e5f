"""Windows: the earliest and the latest start of work that must lie wholly inside a window of each kind it needs.

Work that no window holds is placed as if it needed none, and is flagged: it is shown late rather than hidden.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from dashboard.core.plan.model import Window
from dashboard.core.schedule.float_or_array import BoolOrArray, FloatOrArray, anywhere, latest, where

TINY_MIN = 1e-9

Windows = Mapping[str, Sequence[Window]]


class InWindows(NamedTuple):
    """A start inside the windows (PET minutes), and whether no window holds the work. Both for each draw."""

    start_pet_min: FloatOrArray
    missed: BoolOrArray


def windows_by_kind(windows: Sequence[Window]) -> dict[str, list[Window]]:
    """Windows of each kind in order of time; windows of one kind that touch or overlap count as one.

    Parameters
    ----------
    windows : sequence of Window
        In any order.

    Returns
    -------
    dict of str to list of Window
    """
    by_kind: dict[str, list[Window]] = {}
    for window in sorted(windows, key=lambda w: (w.kind, w.from_)):
        found = by_kind.setdefault(window.kind, [])
        if found and window.from_ <= found[-1].to + TINY_MIN:
            found[-1] = found[-1].model_copy(update={"to": max(found[-1].to, window.to)})
        else:
            found.append(window)
    return by_kind


def earliest_in_windows(
    windows: Windows, needs: Sequence[str], start_pet_min: FloatOrArray, length_min: FloatOrArray
) -> InWindows:
    """Earliest start from which work lies wholly inside a window of each kind.

    Parameters
    ----------
    windows : mapping of str to sequence of Window
        As `windows_by_kind` makes it.
    needs : sequence of str
        Kinds of windows.
    start_pet_min : float or array of shape (draws,)
        No start is earlier than this.
    length_min : float or array of shape (draws,)

    Returns
    -------
    InWindows
        With `start_pet_min` as given where no window holds the work.
    """
    at: FloatOrArray = start_pet_min
    for _ in range(1 + sum(len(windows.get(kind, ())) for kind in needs)):
        before = at
        for kind in needs:
            found: FloatOrArray = math.inf  # stays so in every draw in which no window holds the work
            for window in reversed(windows.get(kind, ())):
                begin = latest((at, window.from_))
                found = where(begin + length_min <= window.to + TINY_MIN, begin, found)
            at = found
        if not anywhere(at > before):
            break
    missed = at == math.inf
    return InWindows(where(missed, start_pet_min, at), missed)


def latest_in_windows(windows: Windows, needs: Sequence[str], start_pet_min: float, length_min: float) -> float:
    """Latest start up to a given one at which work lies wholly inside a window of each kind.

    Parameters
    ----------
    windows : mapping of str to sequence of Window
        As `windows_by_kind` makes it.
    needs : sequence of str
        Kinds of windows.
    start_pet_min : float
        No start is later than this.
    length_min : float

    Returns
    -------
    float
        `start_pet_min` itself where no window holds the work.
    """
    best, moved = start_pet_min, True
    while moved:
        moved = False
        for kind in needs:
            fits = [w for w in windows.get(kind, ()) if w.to - w.from_ >= length_min - TINY_MIN and w.from_ <= best + TINY_MIN]
            if not fits:
                return start_pet_min
            allowed = max(min(best, w.to - length_min) for w in fits)
            if allowed < best - TINY_MIN:
                best, moved = allowed, True
    return best


def kinds_missed(windows: Windows, needs: Sequence[str], start_pet_min: float, length_min: float) -> list[str]:
    """Kinds of windows that hold the work nowhere; all of them when it is only together that they do not.

    Parameters
    ----------
    windows : mapping of str to sequence of Window
        As `windows_by_kind` makes it.
    needs : sequence of str
        Kinds of windows that together do not hold the work.
    start_pet_min, length_min : float

    Returns
    -------
    list of str
    """
    alone = [kind for kind in needs if earliest_in_windows(windows, [kind], start_pet_min, length_min).missed]
    return alone or list(needs)
