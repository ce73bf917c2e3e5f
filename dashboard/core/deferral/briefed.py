"""What the brief itself promises: the chance of being in by the limit before anything has begun."""

from __future__ import annotations

from dashboard.core.deferral.figures import figures_of
from dashboard.core.events.change import Change
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project


def briefed_chance(plan: Plan, draws: int) -> float | None:
    """The chance of the brief.

    Parameters
    ----------
    plan
        As briefed.
    draws
        Number of draws; with 0 there is no chance.

    Returns
    -------
    float or None
        Probability at PET zero of being in by the limit with every consumable above its reserve; None: nothing was drawn.
    """
    record = reconcile(plan, [], plan.sortie.start)
    return figures_of(record, project(record), Change(), confidence=plan.sortie.confidence, draws=draws).in_by_limit
