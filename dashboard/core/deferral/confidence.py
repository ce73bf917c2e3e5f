"""The check of the wanted confidence: the same draws for every change of one record."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

import numpy as np

from dashboard.core.deferral.change import with_change
from dashboard.core.deferral.draws import Draws
from dashboard.core.events.change import Change
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import SEED, Expected, expect
from dashboard.core.schedule.float_or_array import Array
from dashboard.core.schedule.pace import Pace
from dashboard.core.schedule.plan_pace import Projection, project
from dashboard.core.suits.budget import Budget, budgets, limit_draws

# Probability by which the quick check may be wrong. It takes the pace of each task at its time in the projection without any
# change. A change moves later tasks to earlier times, where a passing shift of pace weighs a little more; a change that just
# reaches the confidence must not be refused for that.
QUICK_LOOK_GIVES = 0.02
TINY_MIN = 1e-6


class ConfidenceCheck:
    """Checks whether a change of one record brings the crew in by the limit, all reserves kept, with the wanted probability.

    Parameters
    ----------
    record : Record
    before : Projection
        Plan-pace projection of the record without any change.
    confidence : float
        Wanted probability.
    draws : int
        0: the check is made at plan pace.
    pace : Pace
        What this sortie has shown so far.
    """

    def __init__(self, record: Record, before: Projection, confidence: float, draws: int, pace: Pace) -> None:
        self.record, self.before, self.confidence = record, before, confidence
        self.draws, self.pace = draws, pace
        self.limit = record.plan.sortie.limit_less_reserve_pet_min
        self.quick = Draws.of(record, before, draws, pace, before.slots)

    def passes(self, change: Change) -> bool:
        """Whether a change reaches the confidence and pushes no task past its windows.

        The change must name every task that goes (see `change.closed`). Most changes that fail do so by the limit alone, so
        the limit is checked first, on lengths that are drawn only once.

        Parameters
        ----------
        change
            Of the record that is checked.

        Returns
        -------
        bool
            Without draws, or when no crew task remains, limit and reserves are judged at plan pace.
        """
        if self.quick is not None and not change.order and self._late(self.quick.end(change)):
            return False
        return self.fits(with_change(self.record, change))

    def late(self, change: Change) -> bool:
        """Whether a change fails by the limit alone, with `QUICK_LOOK_GIVES` to spare.

        Parameters
        ----------
        change
            It must name every task that goes (see `change.closed`).

        Returns
        -------
        bool
            False also when no lengths were drawn (see `Draws.of`), and when nothing of the crew remains.
        """
        return self.quick is not None and self._late(self.quick.end(change))

    def likely(self, change: Change, *, spare: float = 0.0) -> bool:
        """Whether a change brings the crew in by the limit and by what the suits last, on lengths that are drawn only once.

        Windows are not judged, and the suits are taken as they last without the change.

        Parameters
        ----------
        change
            It must name every task that goes (see `change.closed`).
        spare
            Probability by which the confidence must be exceeded.

        Returns
        -------
        bool
            Judged as by `passes` when no lengths were drawn.
        """
        end = None if self.quick is None else self.quick.end(change)
        return self.passes(change) if end is None else float((end <= self._last).mean()) >= min(1.0, self.confidence + spare)

    def chance(self, change: Change) -> float:
        """Chance of being in by the limit and by what the suits last with a change, judged as by `likely`.

        Parameters
        ----------
        change
            It must name every task that goes (see `change.closed`).

        Returns
        -------
        float
            Without lengths that are drawn only once, 1 if the change passes, else 0.
        """
        end = None if self.quick is None else self.quick.end(change)
        return float(self.passes(change)) if end is None else float((end <= self._last).mean())

    @cached_property
    def _last(self) -> Array:
        """For each draw, the limit, or when the first suit reaches its reserve without a change, if earlier."""
        limits: Array = np.full(self.draws, self.limit)
        drawn = limit_draws(budgets(self.record, self.before), max(0.0, self.record.pet_min), SEED, self.draws)
        return limits if drawn is None else np.minimum(limits, drawn)

    def hopeless(self, change: Change) -> bool:
        """Whether a change fails by the limit alone, whatever else is handed over to another lane.

        Parameters
        ----------
        change
            It must name every task that goes (see `change.closed`).

        Returns
        -------
        bool
            False also when no lengths were drawn (see `Draws.of`), and when nothing of the crew remains.
        """
        return self.quick is not None and self._late(self.quick.end(change, floating=True))

    def _late(self, end: Array | None) -> bool:
        return end is not None and float((end <= self.limit).mean()) < self.confidence - QUICK_LOOK_GIVES

    def fits(self, changed: Record) -> bool:
        """Whether a record to which a change was applied reaches the confidence and misses no further window.

        Parameters
        ----------
        changed
            The record that is checked, after `with_change`.

        Returns
        -------
        bool
            Without draws, or when no crew task remains, limit and reserves are judged at plan pace.
        """
        projection = project(changed)
        if any(slot.window_missed and not self._missed(task_id) for task_id, slot in projection.slots.items()):
            return False
        budget = budgets(changed, projection)
        expected = expect(changed, projection, draws=self.draws, pace=self.pace) if self.draws else None
        if expected is None:
            return short_at_plan_pace_min(projection, budget, self.limit) <= TINY_MIN
        return float((minutes_over(changed, budget, expected, self.limit) <= 0).mean()) >= self.confidence

    def _missed(self, task_id: str) -> bool:
        slot = self.before.slots.get(task_id)
        return slot is not None and bool(slot.window_missed)


def short_at_plan_pace_min(
    projection: Projection, budget: Mapping[tuple[str, str], Budget], limit_pet_min: float
) -> float:
    """Time by which the plan-pace end is past the limit or past the first reserve.

    Parameters
    ----------
    projection
        At plan pace.
    budget
        (suit, consumable) -> its budget for this projection; empty when no suit is followed.
    limit_pet_min
        Planned limit less reserve.

    Returns
    -------
    float
        Minutes; 0 when it is past neither.
    """
    suits = min((one.reserve_reached_pet_min for one in budget.values()), default=limit_pet_min)
    return max(0.0, (projection.end_pet_min or 0.0) - min(limit_pet_min, suits))


def minutes_over(record: Record, budget: Mapping[tuple[str, str], Budget], expected: Expected, limit_pet_min: float) -> Array:
    """For each draw, the time by which the end is past the limit or past the first reserve.

    Parameters
    ----------
    record
        It gives the instant from which the suits' use is drawn.
    budget
        (suit, consumable) -> its budget; empty when no suit is followed.
    expected
        The draws.
    limit_pet_min
        Planned limit less reserve.

    Returns
    -------
    array of shape (draws,)
        Minutes; zero or negative when the crew is in by both.
    """
    limits: Array = np.full(len(expected.end), limit_pet_min)
    drawn = limit_draws(budget, max(0.0, record.pet_min), SEED, len(expected.end))
    if drawn is not None:
        limits = np.minimum(limits, drawn)
    over: Array = expected.end - limits
    return over
