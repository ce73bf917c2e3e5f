"""Figures of any change: end, margins, probability, cost, decide-by time, and the rules that it breaks."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np

from dashboard.core.deferral.alternatives import left_open
from dashboard.core.deferral.change import closed, value_lost, with_change
from dashboard.core.deferral.confidence import minutes_over, short_at_plan_pace_min
from dashboard.core.deferral.rules import BrokenRule, rules_broken
from dashboard.core.events.change import Change
from dashboard.core.record.lifecycle import NOT_STARTED
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import DRAWS, Expected, expect
from dashboard.core.schedule.plan_pace import Projection, project
from dashboard.core.suits.budget import Budget, budgets


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
    margins_min, limiting : mapping
        Suit -> least margin, and the consumable that has it.
    value_lost : mapping
        Priority class -> value lost.
    decide_by : str
        Why the decide-by time is what it is, or why there is none.
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
    margins_min: Mapping[str, float]
    limiting: Mapping[str, str]
    value_lost: Mapping[int, float]
    decide_by_pet_min: float | None
    decide_by: str
    broken_rules: list[BrokenRule]
    leaves_open: Mapping[str, str]


def figures_of(
    record: Record, before: Projection, change: Change, *, confidence: float, draws: int = DRAWS,
    asked: Collection[str] = (),
) -> Figures:
    """Figures of a change, from the same projection and the same draws as the state.

    Parameters
    ----------
    record : Record
        Without the change.
    before : Projection
        Of the record without the change; it gives the decide-by time.
    change : Change
        As asked for; what goes along is added.
    confidence : float
        Wanted probability, for `short_by_min`. Without draws, the minutes missing at plan pace are given.
    draws : int
        0: plan pace only.
    asked : collection of str
        Tasks that a person asked to give up. For these, only the rules of the plan count.

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
    margins, limiting = _margins(budget)
    at, word = _decide_by(record, before, change)
    return Figures(
        change=change,
        end_pet_min=projection.end_pet_min,
        p50_pet_min=float(np.percentile(expected.end, 50)) if expected else None,
        p90_pet_min=float(np.percentile(expected.end, 90)) if expected else None,
        in_by_limit=in_by,
        short_by_min=short,
        margins_min=margins,
        limiting=limiting,
        value_lost=value_lost(record, change),
        decide_by_pet_min=at,
        decide_by=word,
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


def _decide_by(record: Record, before: Projection, change: Change) -> tuple[float | None, str]:
    """Decide-by time of a change, PET minutes, and the reason in words. None: the change gives nothing up.

    It is the earliest projected start of a task that the change gives up, hands over, or leaves out by another option. Work
    in hand can be trimmed until it has reached its new length, and must be broken off now. A task can be extended until its
    projected end.
    """
    now = max(0.0, record.pet_min)
    times: list[tuple[float, str]] = []
    for task_id in (*change.given_up(), *change.move, *_left_out(record, change)):
        slot, run = before.slots.get(task_id), record.runs[task_id]
        if slot is None:
            continue
        if run.state == NOT_STARTED:
            times.append((max(now, slot.start_pet_min), f"when {task_id} is projected to begin"))
        elif task_id in change.trim:
            left = max(0.0, change.trim[task_id] - run.worked_min(now))
            times.append((now + left, f"when {task_id} has reached its new length"))
        else:
            times.append((now, f"now: {task_id} is {run.state}"))
    times += [
        (max(now, before.slots[t].finish_pet_min), f"when {t} is projected to end")
        for t in change.extend if t in before.slots
    ]
    return min(times, default=(None, "no time: it gives nothing up"), key=lambda t: t[0] or 0.0)


def _left_out(record: Record, change: Change) -> list[str]:
    """Tasks of the options in force that the change replaces by other options."""
    found = []
    for alternative in record.plan.alternatives:
        in_force = record.chosen.get(alternative.id, alternative.default)
        taken = alternative.options[change.choose.get(alternative.id, in_force)]
        found += [t for t in alternative.options[in_force] if t not in taken]
    return found
