"""Checks a plan file as `tetherline check` does: its tables, and what the forecast of the brief finds."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from dashboard.cli.printing import warn
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.base.wording import listed
from dashboard.core.outlook.briefed import Briefed
from dashboard.core.outlook.findings import briefed_plan, forecast_findings
from dashboard.core.outlook.learned_length import LearnedLength
from dashboard.core.outlook.verdict import verdict_of
from dashboard.core.plan.finding_kinds import FINDING_KINDS
from dashboard.core.plan.model import Plan
from dashboard.log.planfile import examine
from dashboard.words import how_many

GRADES = ("error", "caution", "note")


class Checked(NamedTuple):
    """A checked plan.

    Parameters
    ----------
    plan : Plan or None
        None when it cannot be followed.
    problems : list of Problem
        Errors, then cautions, then notes; each in the order of file and line.
    briefed : Briefed or None
        The plan with its forecast; None when it cannot be followed.
    """

    plan: Plan | None
    problems: list[Problem]
    briefed: Briefed | None

    def count(self, grade: str) -> int:
        """How many findings of a grade there are.

        Parameters
        ----------
        grade
            One of `GRADES`.

        Returns
        -------
        int
        """
        return sum(problem.severity == grade for problem in self.problems)

    def counted(self) -> str:
        """The findings by grade.

        Returns
        -------
        str
            Such as ``1 error and 2 cautions``; empty when there are none.
        """
        return listed([how_many(count, grade) for grade in GRADES if (count := self.count(grade))])


def check_file(path: Path, learned: Callable[[Plan], Mapping[str, LearnedLength]] = lambda plan: {}) -> Checked:
    """Check a plan file.

    Parameters
    ----------
    path
        A TOML file.
    learned
        Plan -> what recorded runs say of the lengths of its tasks. By default nothing.

    Returns
    -------
    Checked
    """
    examined = examine(path)
    if examined.plan is None:
        return Checked(None, _graded(examined.problems), None)
    briefed = briefed_plan(examined.plan, learned(examined.plan))
    return Checked(examined.plan, _graded([*examined.problems, *examined.address(forecast_findings(briefed))]), briefed)


def _graded(problems: list[Problem]) -> list[Problem]:
    return sorted(problems, key=lambda problem: GRADES.index(problem.severity))


def verdict(checked: Checked) -> str:
    """The answer of a check in one or two sentences.

    Parameters
    ----------
    checked
        The checked plan.

    Returns
    -------
    str
        It says that the plan can be used only when there is no error and the chance is as wanted.
    """
    plan, briefed = checked.plan, checked.briefed
    counted = checked.counted()
    if plan is None or briefed is None:
        return f"The plan cannot be followed: {counted}."
    size = f"{how_many(len(plan.lanes), 'lane')}, {how_many(len(plan.tasks), 'task')}"
    above = f" {counted} above." if counted else ""
    return f"The plan of sortie {plan.sortie.id} {verdict_of(briefed, checked.problems)}; {size}.{above}"


def finding_json(problem: Problem) -> dict[str, Any]:
    """A finding for JSON.

    Parameters
    ----------
    problem
        A finding of a check.

    Returns
    -------
    dict
        With its code, grade, place, reason, consequence and cure.
    """
    code = problem.code or "file"
    kind = FINDING_KINDS[code]
    return {
        "code": code, "grade": problem.severity, "what": kind.what, **problem.as_dict(),
        "consequence": problem.consequence or kind.follows,
    }  # fmt: skip


def plan_to_brief(path: Path) -> Plan:
    """Read a plan for a command that works before the sortie. Errors that the plan can be followed with are printed as warnings.

    Parameters
    ----------
    path
        A TOML file.

    Returns
    -------
    Plan

    Raises
    ------
    InputError
        When the plan cannot be followed.
    """
    examined = examine(path)
    if examined.plan is None:
        raise InputError(examined.problems)
    for problem in examined.problems:
        if problem.severity == "error":
            warn(problem)
    return examined.plan
