"""What the forecast of a brief finds: every check that needs more than the tables of the plan. Each is one row of `CHECKS`."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from dashboard.core.briefing.briefed import Briefed
from dashboard.core.briefing.chance import check_chance
from dashboard.core.briefing.learned_length import LearnedLength
from dashboard.core.briefing.suit_budget import check_rates, check_suits
from dashboard.core.plan.fields import Finding
from dashboard.core.plan.model import Plan
from dashboard.core.schedule.expected import DRAWS

CHECKS: tuple[Callable[[Briefed], Iterator[Finding]], ...] = (check_chance, check_suits, check_rates)


def briefed_plan(plan: Plan, learned: Mapping[str, LearnedLength] | None = None, draws: int = DRAWS) -> Briefed:
    """A plan made ready for the checks.

    Parameters
    ----------
    plan
        Without errors that make it impossible to follow.
    learned
        Task -> what recorded runs say of its length; None: no runs were given.
    draws
        Number of draws, above 0.

    Returns
    -------
    Briefed
        Nothing is computed yet.
    """
    return Briefed(plan, learned or {}, draws)


def forecast_findings(briefed: Briefed) -> list[Finding]:
    """Run every check that needs the forecast.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Returns
    -------
    list of Finding
        In the order of `CHECKS`.
    """
    return [finding for check in CHECKS for finding in check(briefed)]
