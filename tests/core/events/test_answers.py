"""Events are amended and withdrawn."""

from __future__ import annotations

from tests.core.sorties import PLAN
from tests.scenario import follow_at


def test_amending_the_time_of_an_event():
    """The start moves to 0:05 whichever way the amendment says so."""
    for amendment in (
        '0:20 amend e2 changes={"at":"2031-04-12T09:15:00Z"}',
        "0:05 amend e2",
    ):
        state = follow_at(PLAN, f"0:00 clock\n0:10 start A\n{amendment}", "0:30")
        assert state.tasks["A"].start_pet_min == 5
        assert state.discrepancies == []


def test_an_amendment_that_does_not_fit_is_listed_and_the_event_stands():
    """A wrong field leaves the event as it was."""
    state = follow_at(PLAN, '0:00 clock\n0:10 start A\n0:12 amend e2 changes={"at":"noon"}', "0:30")
    assert state.tasks["A"].start_pet_min == 10
    assert "was not applied" in state.discrepancies[0].found


def test_withdrawals_take_back_events_amendments_and_other_withdrawals():
    """A withdrawn event never was; a withdrawn withdrawal brings it back."""
    log = "0:00 clock\n0:10 start A\n0:12 withdraw e2"
    assert follow_at(PLAN, log, "0:30").tasks["A"].state == "not started"
    assert follow_at(PLAN, f"{log}\n0:13 withdraw e3", "0:30").tasks["A"].state == "in work"
