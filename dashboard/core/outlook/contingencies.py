"""Contingencies: whether each would fit at some moment of a sortie that goes as planned.

A contingency fits when, inserted then, the crew is still in by the limit at plan pace with every consumable above its reserve.
It is tried at every hour, first with nothing given up, then with all that may be given up. A plan of more than `MANY_TASKS`
tasks is tried at `MOST_MOMENTS` of its hours, and the finding says how many those were.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from dashboard.core.base.minutes import length
from dashboard.core.base.times import plus_minutes
from dashboard.core.deferral.all_that_may_go import all_that_may_go
from dashboard.core.deferral.change import with_change
from dashboard.core.deferral.confidence import TINY_MIN, short_at_plan_pace_min
from dashboard.core.events.insert import Insert
from dashboard.core.outlook.as_planned import record_at
from dashboard.core.outlook.briefed import Briefed, found, pet
from dashboard.core.outlook.way_back import hours
from dashboard.core.plan.fields import Finding
from dashboard.core.plan.model import Contingency
from dashboard.core.record.record import Record
from dashboard.core.schedule.plan_pace import project
from dashboard.core.suits.budget import budgets

MANY_TASKS = 500
MOST_MOMENTS = 5


def check_contingencies(briefed: Briefed) -> Iterator[Finding]:
    """Each contingency at every hour of the sortie.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Yields
    ------
    Finding
        An error when it fits at no moment whatever is given up, a caution when it never fits without giving something up.
    """
    moments = moments_tried(briefed)
    for at, contingency in enumerate(briefed.plan.contingencies):
        if not contingency.tasks or not moments:
            continue
        short = _shortest(briefed, contingency, moments, everything=False)
        if short.by_min <= TINY_MIN:
            continue
        never = _shortest(briefed, contingency, moments, everything=True).by_min > TINY_MIN
        yield found(
            "contingency-never-fits" if never else "contingency-needs-a-cut", "error" if never else "caution",
            ("contingency", at), f"contingency {contingency.id}",
            "a moment of the sortie at which its steps fit before the limit and the reserves of the suits, at plan pace",
            f"none of the {len(moments)} that were tried: at best {length(short.by_min, 'up')} short, "
            f"inserted at {pet(short.pet_min)}"
            + (", and with all given up that may go it does not fit either" if never else ""),
            "Leave more time or more consumables in hand, shorten its steps, or say in the brief that the sortie ends with it."
            if never else "Decide in the brief what goes when it comes; `tetherline bear` says what costs least.",
        )


class _Short(NamedTuple):
    """By how much a contingency misses limit and reserves, and the PET minutes at which it is inserted."""

    by_min: float
    pet_min: float


def _shortest(briefed: Briefed, contingency: Contingency, moments: Sequence[float], *, everything: bool) -> _Short:
    """The moment with the least shortage; the first at which the contingency fits."""
    least = _Short(math.inf, 0.0)
    for pet_min in moments:
        least = min(least, _Short(short_min(briefed, contingency, pet_min, everything=everything), pet_min))
        if least.by_min <= TINY_MIN:
            break
    return least


def moments_tried(briefed: Briefed) -> list[float]:
    """The hours of the sortie at which contingencies are tried: all of them, or `MOST_MOMENTS` of a plan with many tasks.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Returns
    -------
    list of float
        PET minutes, in order of time.
    """
    every = hours(briefed)
    if len(briefed.plan.tasks) <= MANY_TASKS or len(every) <= MOST_MOMENTS:
        return every
    return [every[round(i * (len(every) - 1) / (MOST_MOMENTS - 1))] for i in range(MOST_MOMENTS)]


def short_min(briefed: Briefed, contingency: Contingency, pet_min: float, *, everything: bool) -> float:
    """By how much the sortie misses limit and reserves at plan pace with a contingency.

    Parameters
    ----------
    briefed
        The plan with its forecast.
    contingency
        Of the plan.
    pet_min
        PET minutes at which it is inserted in a sortie that has gone as planned.
    everything
        Whether all that may be given up is given up then.

    Returns
    -------
    float
        Minutes; 0 or less when it fits.
    """
    at = plus_minutes(briefed.plan.sortie.start, pet_min)
    insert = Insert(kind="insert", id="contingency", at=at, contingency=contingency.id)
    record = record_at(briefed, pet_min, [insert])
    if not everything:
        return _short(record)
    return _short(with_change(record, all_that_may_go(record, project(record))))


def _short(record: Record) -> float:
    projection = project(record)
    return short_at_plan_pace_min(projection, budgets(record, projection), record.plan.sortie.limit_less_reserve_pet_min)
