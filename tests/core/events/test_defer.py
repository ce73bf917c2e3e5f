"""Tasks leave this sortie and come back."""

from __future__ import annotations

import pytest

from tests.core.sorties import PLAN, complaints
from tests.scenario import follow_at, plan_of, task


def test_reinstating_only_a_follower_is_a_discrepancy_and_applied():
    """B is put back on its own as the room meant it, and the missing A is named."""
    state = follow_at(PLAN, "0:00 clock\n0:05 defer A\n0:08 reinstate B", "0:10")
    assert state.tasks["B"].in_plan
    assert state.tasks["C"].in_plan
    assert not state.tasks["A"].in_plan
    assert state.discrepancies[0].found == "goes with A"


def test_a_required_task_deferred_all_the_same_is_listed():
    """It is applied as decided, and the discrepancy says that the plan forbids it."""
    assert complaints("0:00 clock\n0:05 defer J", "0:10") == [("J not to be deferred (required)", "defer; applied")]


@pytest.mark.parametrize(("deferred", "because"), [("B", "deferred"), ("A", "goes with A")])
def test_an_alert_stands_while_a_required_task_is_deferred(deferred: str, because: str):
    """Also when it only goes along with what it comes after; it is gone once the task is back."""
    plan = plan_of(task("A", "EV1", 0, 20) + task("B", "EV1", 30, 20, after=["A"], required=True, title="Close hatch"))
    log = f"0:00 clock\n0:05 defer {deferred}"
    (alert,) = follow_at(plan, log, "0:10").alerts
    assert alert.what == f"B Close hatch is required and is not in the plan of record: {because}"
    assert alert.do.startswith("Reinstate it")
    assert follow_at(plan, f"{log}\n0:12 reinstate {deferred}", "0:15").alerts == []


def test_what_is_reinstated_comes_behind_a_contingency_under_way():
    """Contingency tasks go ahead of the rest of their lanes, and what comes back is part of that rest."""
    plan = plan_of(
        task("A", "EV1", 0, 30) + task("B", "EV1", 30, 30) + '[[contingency]]\nid = "leak"\n'
        + task("C1", "EV1", None, 5).replace("[[task]]", "[[contingency.task]]")
        + task("C2", "EV1", None, 5).replace("[[task]]", "[[contingency.task]]")
    )
    log = "0:00 clock\n0:01 defer A\n0:02 insert leak\n0:02 start C1\n0:07 done C1\n0:08 reinstate A"
    assert follow_at(plan, log, "0:10").lanes["EV1"].order == ["C2", "A", "B"]
