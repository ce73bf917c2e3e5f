"""The figures of any set of changes: end, margins, probability, cost, and the rules it breaks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dashboard.core.deferral.change import Change, closed, value_lost, with_change
from dashboard.core.expected import DRAWS, SEED, Expected, expect
from dashboard.core.lifecycle import NOT_STARTED
from dashboard.core.projection import Projection, project
from dashboard.core.record import Record
from dashboard.core.suits import Budget, budgets, limit_draws


@dataclass(frozen=True)
class Figures:
    """What a change brings. PET minutes; `in_by_limit` None when not drawn."""

    change: Change
    end_pet_min: float | None
    p90_pet_min: float | None
    in_by_limit: float | None
    short_by_min: float
    margins_min: Mapping[str, float]
    limiting: Mapping[str, str]
    value_lost: Mapping[int, float]
    decide_by_pet_min: float | None
    broken_rules: list[str]


def figures_of(
    record: Record, before: Projection, change: Change, *, confidence: float, draws: int = DRAWS
) -> Figures:
    """Figures of a change, projected and drawn like any state.

    Parameters
    ----------
    record : Record
        As it is.
    before : Projection
        Of the record as it is: gives the decide-by time.
    confidence : float
        `short_by_min` is how many minutes are missing for this probability of being in (0 when it is reached). With
        no draws it is measured on the plan-pace end.
    draws : int
        0: plan pace only.
    """
    change = closed(record, change)
    changed = with_change(record, change)
    projection = project(changed)
    budget = budgets(changed, projection)
    limit = record.plan.sortie.limit_less_reserve_pet_min
    expected = expect(changed, projection, draws=draws) if draws else None
    in_by, short = _chance(changed, projection, budget, expected, limit, confidence)
    margins, limiting = _margins(budget)
    return Figures(
        change=change,
        end_pet_min=projection.end_pet_min,
        p90_pet_min=float(np.percentile(expected.end, 90)) if expected else None,
        in_by_limit=in_by,
        short_by_min=short,
        margins_min=margins,
        limiting=limiting,
        value_lost=value_lost(record, change),
        decide_by_pet_min=decide_by(record, before, change),
        broken_rules=broken_rules(record, change),
    )


def _chance(
    record: Record, projection: Projection, budget: Mapping[tuple[str, str], Budget], expected: Expected | None,
    limit: float, confidence: float,
) -> tuple[float | None, float]:
    if expected is None:
        end = projection.end_pet_min or 0.0
        suits = min((one.reserve_reached_pet_min for one in budget.values()), default=limit)
        return None, max(0.0, end - min(limit, suits))
    limits = np.full(len(expected.end), limit)
    drawn = limit_draws(budget, max(0.0, record.pet_min), SEED, len(expected.end))
    if drawn is not None:
        limits = np.minimum(limits, drawn)
    over = expected.end - limits
    return float((over <= 0).mean()), max(0.0, float(np.quantile(over, confidence)))


def _margins(budget: Mapping[tuple[str, str], Budget]) -> tuple[dict[str, float], dict[str, str]]:
    margins: dict[str, float] = {}
    limiting: dict[str, str] = {}
    for (suit, name), one in budget.items():
        if suit not in margins or one.margin_min < margins[suit]:
            margins[suit], limiting[suit] = one.margin_min, name
    return margins, limiting


def decide_by(record: Record, before: Projection, change: Change) -> float | None:
    """PET after which the change is no longer open: the earliest projected start of anything it gives up.

    Work in hand that is to be trimmed can be trimmed until it has reached its new length; work to be broken off, or
    nothing given up: at once, None.
    """
    times = []
    for task_id in change.given_up():
        slot = before.slots.get(task_id)
        if slot is None:
            continue
        run = record.runs[task_id]
        if run.state == NOT_STARTED:
            times.append(slot.start_pet_min)
        elif task_id in change.trim:
            times.append(max(0.0, record.pet_min) + max(0.0, change.trim[task_id] - run.worked_min(record.pet_min)))
        else:
            times.append(max(0.0, record.pet_min))
    return min(times, default=None)


def broken_rules(record: Record, change: Change) -> list[str]:
    """What the plan does not allow, in words; empty when nothing is broken."""
    broken = []
    for task_id in change.given_up():
        if record.runs[task_id].task.required:
            broken.append(f"{task_id} is required")
    for task_id, minutes in change.trim.items():
        task = record.runs[task_id].task
        if task.shortest is None:
            broken.append(f"{task_id} may not be trimmed")
        elif minutes < task.shortest - 1e-6:
            broken.append(f"{task_id} is useful from {task.shortest:g} min up")
    broken += [f"{t} may not be broken off" for t in change.break_off if record.runs[t].task.closeout is None]
    broken += [f"{t} may not go to {n}" for t, n in change.move.items() if n not in record.runs[t].task.can_move_to]
    return broken
