"""A stop with the intention to go on, and going on."""

from __future__ import annotations

import pytest

from tests.core.sorties import PLAN
from tests.scenario import follow_at


def test_holding_a_task_frees_its_lane():
    """With A on hold another task may start in the lane without complaint."""
    state = follow_at(PLAN, "0:00 clock\n0:00 start A\n0:10 hold A reason=glove\n0:12 start P", "0:20")
    assert state.tasks["A"].state == "on hold"
    assert (state.tasks["A"].hold_reason, state.tasks["A"].hold_since_pet_min) == ("glove", 10)
    assert state.tasks["A"].worked_min == 10
    assert state.lanes["EV1"].task == "P"
    assert state.discrepancies == []


@pytest.mark.parametrize("scope", ["all=true", "lane=EV1"])
def test_a_hold_of_a_lane_or_of_all_stops_and_resumes_its_work(scope):
    """Work in the lane goes on hold with it and goes on with it; time on hold is not work."""
    log = f"0:00 clock\n0:00 start A\n0:10 hold {scope}\n0:25 resume {scope}"
    held = follow_at(PLAN, log, "0:20")
    assert held.lanes["EV1"].held
    assert held.lanes["EV1"].state == "on hold"
    going = follow_at(PLAN, log, "0:30")
    assert going.tasks["A"].state == "in work"
    assert going.tasks["A"].worked_min == 15
    assert not going.lanes["EV1"].held
    assert going.discrepancies == []


def test_a_task_held_on_its_own_stays_on_hold_when_all_resume():
    """`resume all` lifts the hold of all; what was held for a reason of its own stays."""
    log = "0:00 clock\n0:00 start A\n0:00 start D\n0:05 hold A\n0:10 hold all=true\n0:20 resume all=true"
    state = follow_at(PLAN, log, "0:25")
    assert state.tasks["A"].state == "on hold"
    assert state.tasks["D"].state == "in work"
