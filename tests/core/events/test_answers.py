"""Events are amended and withdrawn."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.events.kinds import UnreadableEvent
from dashboard.core.state.log_in_words import logbook
from tests.core.events.examples import example
from tests.core.sorties import PLAN
from tests.scenario import at, follow_at, log_of


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
    state = follow_at(PLAN, '0:00 clock\n0:10 start A\n0:12 amend e2 changes={"lanes":7}', "0:30")
    assert state.tasks["A"].start_pet_min == 10
    assert "was not applied" in state.discrepancies[0].found


def test_withdrawals_take_back_events_amendments_and_other_withdrawals():
    """A withdrawn event never was; a withdrawn withdrawal brings it back."""
    log = "0:00 clock\n0:10 start A\n0:12 withdraw e2"
    assert follow_at(PLAN, log, "0:30").tasks["A"].state == "not started"
    assert follow_at(PLAN, f"{log}\n0:13 withdraw e3", "0:30").tasks["A"].state == "in work"


@pytest.mark.parametrize("when", ["10:15", None, "2031-04-12T24:00:00Z", "2031-02-31T10:00:00Z", 7, ["2031-04-12T10:00:00Z"]])
def test_an_amendment_to_what_is_no_time_cannot_be_read(when):
    """The sender is told at once what was expected, and it can never reach a state."""
    with pytest.raises(UnreadableEvent, match="'at' in 'changes' to be"):
        example("amend", changes={"at": when})


@pytest.mark.parametrize("changes", [{"task": None}, {"task": 7}, {"lanes": ["EV1"] * 999}, {"kind_": "x"}, {"by": 3}])
def test_any_other_change_that_does_not_fit_is_listed_and_shown(changes):
    """The start stands as it was, and the log says what was to change."""
    events = [*log_of("0:00 clock\n0:05 start A"), example("amend", event="e2", changes=changes)]
    state = follow_at(PLAN, events, "0:30")
    assert state.tasks["A"].start_pet_min == 5
    assert [one.event for one in state.discrepancies] == ["e9"]
    (_, _, shown) = logbook(PLAN, events, parse_instant(at("0:30")))
    assert shown.text.startswith("amend 'start A' of PET 0:05: ")
