"""Work ends early."""

from __future__ import annotations

from tests.core.sorties import PLAN
from tests.scenario import follow_at


def test_a_broken_off_task_keeps_its_lane_for_its_close_out():
    """Six minutes to leave A safe; what comes after it is flagged for a decision."""
    state = follow_at(PLAN, "0:00 clock\n0:00 start A\n0:10 break_off A", "0:12")
    assert state.tasks["A"].state == "broken off"
    assert state.lanes["EV1"].state == "close-out"
    assert state.tasks["B"].projected_start_pet_min == 16
    assert [alert.id for alert in state.alerts] == ["after-broken-off-B"]
    assert state.lanes["EV1"].ahead_min == 18  # the whole planned length counts as earned
    assert follow_at(PLAN, "0:00 clock\n0:00 start A\n0:10 break_off A", "0:20").lanes["EV1"].state == "waiting"
