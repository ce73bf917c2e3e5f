"""What the forecast of a brief finds: every check that needs more than the tables of the plan. Each is one row of `CHECKS`."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from dashboard.core.outlook.briefed import Briefed
from dashboard.core.outlook.chance import check_chance
from dashboard.core.outlook.contingencies import check_contingencies
from dashboard.core.outlook.endings import check_endings
from dashboard.core.outlook.giving_up import check_classes, check_close_outs
from dashboard.core.outlook.in_windows import check_windows
from dashboard.core.outlook.learned_length import LearnedLength
from dashboard.core.outlook.lengths import check_lengths, check_ranges, check_reserve
from dashboard.core.outlook.out_of_plan import check_out_of_plan
from dashboard.core.outlook.recurring import check_recurring
from dashboard.core.outlook.suit_budget import check_rates, check_suits
from dashboard.core.outlook.waiting import check_waits
from dashboard.core.outlook.way_back import check_leave_by, check_turn_back, check_way_home
from dashboard.core.outlook.ways import check_ways
from dashboard.core.plan.fields import Finding
from dashboard.core.plan.model import Plan
from dashboard.core.schedule.expected import DRAWS

CHECKS: tuple[Callable[[Briefed], Iterator[Finding]], ...] = (
    check_chance, check_suits, check_rates, check_reserve, check_out_of_plan, check_ways, check_waits, check_windows,
    check_leave_by, check_turn_back, check_way_home, check_classes, check_close_outs, check_contingencies, check_endings,
    check_recurring, check_lengths, check_ranges,
)


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
