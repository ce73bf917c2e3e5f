"""A short sound plan, and what the forecast finds in plans near it."""

from __future__ import annotations

from dashboard.core.outlook.briefed import Briefed
from dashboard.core.outlook.findings import briefed_plan, forecast_findings
from dashboard.core.plan.fields import Finding
from tests.problems import the_only
from tests.scenario import SORTIE, TWO_IN_SUITS, plan_of, suit, task

PLENTY = {"loaded": 9.0, "reserve": 0.4, "base": 0.5, "per_watt": 0}
SUITS = suit("A", water=PLENTY) + suit("B", water=PLENTY)
SITES = '[[worksite]]\nid = "airlock"\n[[worksite]]\nid = "mast"\nreturn = 10\n'
HEAD = f"[sortie]\n{SORTIE}lead = 0\n{TWO_IN_SUITS}{SITES}"
HOME = task("HOME", "EV1 EV2", 120, [8, 10, 14], required=True, worksite="airlock", workload="light")


def work(**more: object) -> str:
    """Two tasks of EV1, to PET 2:00, and three of EV2, to PET 1:50, before the way home; `more` are keys of the first one."""
    return (
        task("T1", "EV1", 0, [50, 60, 80], **{"workload": "light", **more})
        + task("T2", "EV1", 60, [50, 60, 80], workload="light", closeout=5)
        + task("T3", "EV2", 0, [15, 20, 30], workload="light", closeout=5)
        + task("T31", "EV2", 20, [15, 20, 30], workload="light", closeout=5)
        + task("T32", "EV2", 40, [60, 70, 90], workload="light", closeout=5)
    )


SOUND = HEAD + SUITS + work(closeout=5) + HOME


def briefed(text: str = SOUND, **more: object) -> Briefed:
    """A plan with its forecast, on fewer draws than the command takes."""
    return briefed_plan(plan_of(text), draws=1000, **more)


def found_in(text: str = SOUND, code: str = "", **more: object) -> list[Finding]:
    """What the forecast finds in a plan; with a code only findings of that kind."""
    findings = forecast_findings(briefed(text, **more))
    return [one for one in findings if code in ("", one.problem.code)]


def the_finding(text: str, code: str, **more: object) -> Finding:
    """The one finding of a kind."""
    return the_only_finding(found_in(text, code, **more))


def the_only_finding(findings: list[Finding]) -> Finding:
    the_only(one.problem for one in findings)
    return findings[0]
