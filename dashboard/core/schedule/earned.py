"""Ahead and behind by time-based earned schedule.

`WorkCurve` holds the minutes of briefed work that lie in a lane before each PET. Its inverse turns the work earned so far
into the PET at which that much work was briefed to be done. Earned schedule after W. Lipke, "Schedule is different", The
Measurable News, 2003 (method from memory; the rule for flat stretches is our own, see `WorkCurve.pet_of`).
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable

_TINY_MIN = 1e-9


class WorkCurve:
    """Cumulative briefed work of one lane.

    Parameters
    ----------
    pieces : iterable of (float, float)
        Briefed start (PET minutes) and length (minutes) of each task that counts. They may overlap.
    open_from_pet_min : float
        Briefed start of the first of these tasks that is not over. A gap after it is not credited yet: it is taken out of the
        curve. By default every gap is credited.
    """

    def __init__(self, pieces: Iterable[tuple[float, float]], open_from_pet_min: float = math.inf) -> None:
        slope_changes: dict[float, int] = {}
        self._end: float | None = None
        for start, length in pieces:
            if length > 0:
                slope_changes[start] = slope_changes.get(start, 0) + 1
                slope_changes[start + length] = slope_changes.get(start + length, 0) - 1
                self._end = max(start + length, self._end or 0.0)
        self._pet: list[float] = []
        self._work: list[float] = []
        slope, work, previous, left_out = 0, 0.0, 0.0, 0.0
        for pet in sorted(slope_changes):
            if slope == 0 and self._pet and pet > open_from_pet_min:
                left_out += pet - previous
            work += slope * (pet - previous)
            self._pet.append(pet - left_out)
            self._work.append(work)
            slope, previous = slope + slope_changes[pet], pet

    @property
    def total_min(self) -> float:
        """All the briefed work of the lane, minutes."""
        return self._work[-1] if self._work else 0.0

    @property
    def end_pet_min(self) -> float | None:
        """Briefed end of the lane, gaps included; None when it has no briefed work."""
        return self._end

    def pet_of(self, earned_min: float, now_pet_min: float, *, begun: bool = False) -> float | None:
        """The earned PET: when this much work was briefed to be done.

        Where the curve is flat (a credited gap, or the time before the first task) the answer is `now_pet_min` clamped to
        the gap, so that a briefed wait is no delay. All work earned gives the end of the curve.

        Parameters
        ----------
        earned_min : float
        now_pet_min : float
        begun : bool
            A task after the work earned is begun: the wait before it is past, and the gap counts as a whole.

        Returns
        -------
        float or None
            PET minutes; None when the lane has no briefed work.
        """
        if not self._pet:
            return None
        if earned_min >= self.total_min - _TINY_MIN:
            return self._pet[-1]
        if earned_min <= _TINY_MIN:
            first, last = min(0.0, self._pet[0]), self._pet[0]
        else:
            first = self._first_pet_with(earned_min - _TINY_MIN)
            last = self._last_pet_with(earned_min + _TINY_MIN)
            if last - first <= 4 * _TINY_MIN:
                return self._exact(earned_min)
        return last if begun else min(max(now_pet_min, first), last)

    def _exact(self, earned_min: float) -> float:
        i = bisect_right(self._work, earned_min) - 1
        i = max(0, min(i, len(self._work) - 2))
        rise = self._work[i + 1] - self._work[i]
        if rise <= 0:
            return self._pet[i + 1]
        return self._pet[i] + (earned_min - self._work[i]) / rise * (self._pet[i + 1] - self._pet[i])

    def _first_pet_with(self, work: float) -> float:
        i = bisect_left(self._work, work)
        below, above = self._work[i - 1], self._work[i]
        return self._pet[i - 1] + (work - below) / (above - below) * (self._pet[i] - self._pet[i - 1])

    def _last_pet_with(self, work: float) -> float:
        i = bisect_right(self._work, work) - 1
        if i + 1 >= len(self._work):
            return self._pet[-1]
        below, above = self._work[i], self._work[i + 1]
        return self._pet[i] + (work - below) / (above - below) * (self._pet[i + 1] - self._pet[i])


def earned_part(planned_min: float, worked_min: float, remaining_by_estimate_min: float | None) -> float:
    """Work earned by a task in work or on hold.

    Parameters
    ----------
    planned_min : float
        The likely duration, or the length that the task was trimmed to. An extend adds nothing to it.
    worked_min : float
        Time in work so far.
    remaining_by_estimate_min : float or None
        What remains by a standing estimate; None: no estimate stands.

    Returns
    -------
    float
        Minutes: planned x worked / (worked + remaining) with an estimate, else the time worked, up to the planned length.
    """
    if remaining_by_estimate_min is not None:
        whole = worked_min + remaining_by_estimate_min
        return planned_min * worked_min / whole if whole > 0 else planned_min
    return min(worked_min, planned_min)
