"""A contingency happens."""

from __future__ import annotations

from tests.core.sorties import PLAN
from tests.scenario import follow_at


def test_a_contingency_goes_ahead_of_the_rest_and_holds_what_it_names():
    """A is put on hold, C1 and C2 come first, and A is projected to go on after both."""
    state = follow_at(PLAN, "0:00 clock\n0:00 start A\n0:00 start D\n0:10 insert leak", "0:10")
    assert state.tasks["A"].state == "on hold"
    assert state.tasks["A"].hold_reason == "Leak seen"
    assert state.lanes["EV1"].order[:3] == ["C1", "C2", "A"]
    assert state.tasks["C1"].projected_start_pet_min == 10
    assert state.tasks["C2"].projected_start_pet_min == 40  # waits for EV2, busy with D
    assert state.tasks["A"].projected_start_pet_min == 45
    assert state.tasks["A"].projected_finish_pet_min == 65
    assert state.contingencies == {"leak": True}
