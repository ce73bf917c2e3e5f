"""What the record says of tasks that depend on each other."""

from __future__ import annotations

from tests.core.sorties import PLAN
from tests.scenario import follow_at


def test_what_comes_after_a_deferred_task_goes_with_it():
    """Deferring A takes B and C along, and says why; reinstating A brings them back."""
    state = follow_at(PLAN, "0:00 clock\n0:05 defer A", "0:10")
    assert [state.tasks[t].state for t in "ABC"] == ["deferred"] * 3
    assert state.tasks["C"].why_out == "goes with B"
    assert state.lanes["EV1"].next == "J"
    state = follow_at(PLAN, "0:00 clock\n0:05 defer A\n0:08 reinstate A", "0:10")
    assert [state.tasks[t].state for t in "ABC"] == ["not started"] * 3
