"""Figures of any change: end, margins, probability, cost, decide-by time, and the rules that it breaks."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np

from dashboard.core.deferral.alternatives import left_open
from dashboard.core.deferral.change import closed, value_lost, with_change
from dashboard.core.deferral.confidence import minutes_over, short_at_plan_pace_min
from dashboard.core.deferral.rules import BrokenRule, rules_broken
from dashboard.core.deferral.when_to_decide import PartInTime, Times, first_decide_by, parts_in_time
from dashboard.core.events.change import Change
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import DRAWS, Expected, expect
from dashboard.core.schedule.plan_pace import Projection, project
from dashboard.core.suits.budget import Budget, budgets
from dashboard.core.suits.shortfall import short_of


@dataclass(frozen=True)
class Figures:
    """Figures of a change. Times are PET minutes; what needs draws is None without draws.

    Parameters
    ----------
    change : Change
        With every task that goes along.
    in_by_limit : float or None
        Probability of being in by the limit with every suit above its reserve.
    short_by_min : float
        Minutes missing for the wanted probability; 0 when it is reached.
    short_of : str or None
        What most draws that are not in time are past (see `shortfall`); None: nothing is missing, or nothing was drawn.
    margins_min, limiting : mapping
        Suit -> least margin, and the consumable that has it.
    value_lost : mapping
        Priority class -> value lost.
    decide_by : str
        Why the decide-by time is what it is, or why there is none.
    parts : list of PartInTime
        Each part of the change with a decide-by time of its own.
    broken_rules : list of BrokenRule
    leaves_open : mapping
        Alternative of which no option is done whole -> a sentence that says so.
    """

    change: Change
    end_pet_min: float | None
    p50_pet_min: float | None
    p90_pet_min: float | None
    in_by_limit: float | None
    short_by_min: float
    short_of: str | None
    margins_min: Mapping[str, float]
    limiting: Mapping[str, str]
    value_lost: Mapping[int, float]
    decide_by_pet_min: float | None
    decide_by: str
    parts: list[PartInTime]
    broken_rules: list[BrokenRule]
    leaves_open: Mapping[str, str]


def figures_of(
    record: Record, before: Projection, change: Change, *, confidence: float, draws: int = DRAWS,
    asked: Collection[str] = (), times: Times | None = None,
) -> Figures:
    """Figures of a change, from the same projection and the same draws as the state.

    Parameters
    ----------
    record : Record
        Without the change.
    before : Projection
        Of the record without the change.
    change : Change
        As asked for; what goes along is added.
    confidence : float
        Wanted probability, for `short_by_min`. Without draws, the minutes missing at plan pace are given.
    draws : int
        0: plan pace only.
    asked : collection of str
        Tasks that a person asked to give up. For these, only the rules of the plan count.
    times : Times, optional
        Projected times of the record without the change, which give the decide-by times. None: they are made here.

    Returns
    -------
    Figures
        With `change` completed.
    """
    change = closed(record, change)
    changed = with_change(record, change)
    projection = project(changed)
    budget = budgets(changed, projection)
    limit = record.plan.sortie.limit_less_reserve_pet_min
    expected = expect(changed, projection, draws=draws) if draws else None
    in_by, short = _chance(changed, projection, budget, expected, limit, confidence)
    missing = short_of(expected.end, limit, budget, max(0.0, record.pet_min)) if expected and short else None
    margins, limiting = _margins(budget)
    if times is None:
        times = Times(before, expect(record, before, draws=draws) if draws and change.count() else None)
    parts = parts_in_time(record, times, change)
    at, word = first_decide_by(parts)
    return Figures(
        change=change,
        end_pet_min=projection.end_pet_min,
        p50_pet_min=float(np.percentile(expected.end, 50)) if expected else None,
        p90_pet_min=float(np.percentile(expected.end, 90)) if expected else None,
        in_by_limit=in_by,
        short_by_min=short,
        short_of=missing,
        margins_min=margins,
        limiting=limiting,
        value_lost=value_lost(record, change),
        decide_by_pet_min=at,
        decide_by=word,
        parts=parts,
        broken_rules=rules_broken(record, change, asked),
        leaves_open=left_open(record, change),
    )


def _chance(
    record: Record, projection: Projection, budget: Mapping[tuple[str, str], Budget], expected: Expected | None,
    limit: float, confidence: float,
) -> tuple[float | None, float]:
    if expected is None:
        return None, short_at_plan_pace_min(projection, budget, limit)
    over = minutes_over(record, budget, expected, limit)
    in_by = float((over <= 0).mean())
    return in_by, 0.0 if in_by >= confidence else max(0.0, float(np.quantile(over, confidence)))


def _margins(budget: Mapping[tuple[str, str], Budget]) -> tuple[dict[str, float], dict[str, str]]:
    margins: dict[str, float] = {}
    limiting: dict[str, str] = {}
    for (suit, name), one in budget.items():
        if suit not in margins or one.margin_min < margins[suit]:
            margins[suit], limiting[suit] = one.margin_min, name
    return margins, limiting

