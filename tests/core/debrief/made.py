"""The plan that the tests of the debrief share, and its debrief at an instant."""

from __future__ import annotations

from dashboard.core.base.times import parse_instant
from dashboard.core.debrief.facts import Debrief, LedgerLine
from dashboard.core.debrief.look_back import debrief
from dashboard.core.plan.model import Plan
from tests.scenario import at, log_of, plan_of, task

PLAN = plan_of(
    task("T010", "EV1", 0, 30, title="Unstow")
    + task("T020", "EV1", 30, [20, 30, 50], closeout=4, shortest=10)
    + task("T030", "EV2", 0, 60)
    + task("T040", "EV1 EV2", 65, 20, after=["T020", "T030"])
)


def made(plan: Plan, log: str, pet: str | float) -> Debrief:
    return debrief(plan, log_of(log), parse_instant(at(pet)), draws=0)


def lines(facts: Debrief, lane: str) -> dict[tuple[str, str | None], float]:
    return {(line.kind, line.task): round(line.minutes, 6) for line in facts.lanes[lane].ledger}


def line(facts: Debrief, lane: str, kind: str, task_id: str | None = None) -> LedgerLine:
    found = [one for one in facts.lanes[lane].ledger if one.kind == kind and (task_id is None or one.task == task_id)]
    assert len(found) == 1, facts.lanes[lane].ledger
    return found[0]
