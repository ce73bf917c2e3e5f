"""The answer of a check: whether the plan can be used. The command line and the plan page say the same."""

from __future__ import annotations

from collections.abc import Iterable

from dashboard.core.base.problems import Problem
from dashboard.core.base.wording import chance_text
from dashboard.core.outlook.briefed import Briefed


def verdict_of(briefed: Briefed, problems: Iterable[Problem]) -> str:
    """What a check says of the whole plan.

    Parameters
    ----------
    briefed
        The plan with its forecast.
    problems
        All that the check finds.

    Returns
    -------
    str
        The rest of a sentence that begins with the plan. It says ``can be used`` only when there is no error and the chance is as
        wanted.
    """
    sure, wanted = briefed.chance, briefed.plan.sortie.confidence
    if sure is None:
        return "has no work for the crew"
    said = f"as briefed {in_time(briefed)}"
    if any(problem.severity == "error" for problem in problems):
        return f"is not ready to be used: {said}"
    return f"promises too little: {said}, wanted {chance_text(wanted)}" if sure < wanted else f"can be used: {said}"


def in_time(briefed: Briefed) -> str:
    """The chance of the brief in words, and what it is a chance of.

    Parameters
    ----------
    briefed
        The plan with its forecast, with work for the crew.

    Returns
    -------
    str
    """
    of = " with every suit above its reserve" if briefed.budget else "; no suit sets a limit"
    return f"{chance_text(briefed.chance or 0.0)} likely in by the limit{of}"
