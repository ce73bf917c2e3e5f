"""Work begins."""

from __future__ import annotations

import pytest

from dashboard.core.events.kinds import UnreadableEvent
from dashboard.core.events.start import Start
from tests.core.events.examples import example
from tests.core.sorties import PLAN, complaints
from tests.scenario import follow_at


def test_a_start_in_a_busy_lane_is_applied_and_listed():
    """Both tasks are in work, and the discrepancy names the one that was not finished."""
    state = follow_at(PLAN, "0:00 clock\n0:00 start A\n0:10 start P", "0:12")
    assert state.tasks["A"].state == state.tasks["P"].state == "in work"
    assert state.discrepancies[0].found == "A still in work there"


def test_a_start_before_what_it_comes_after_is_applied_and_listed():
    """B starts although A is not done; expected and found say so."""
    assert complaints("0:00 clock\n0:05 start B", "0:10") == [("A done before B starts", "A not started")]


def test_an_unstarted_get_ahead_has_no_place_until_it_starts():
    """G is not projected, is never 'next', and counts from its start."""
    waiting = follow_at(PLAN, "0:00 clock", "0:05")
    assert waiting.tasks["G"].projected_start_pet_min is None
    assert "G" not in waiting.lanes["EV2"].order
    begun = follow_at(PLAN, "0:00 clock\n0:00 start D\n0:40 done D\n0:40 start G", "0:45")
    assert begun.tasks["G"].projected_finish_pet_min == 55
    assert begun.tasks["E"].projected_start_pet_min == 55


def test_lanes_that_are_named_twice_count_once():
    """In the order in which they were named first."""
    event = example("start", lanes=["EV2", "EV1", "EV2"])
    assert isinstance(event, Start) and event.lanes == ("EV2", "EV1")


def test_a_list_of_lanes_beyond_reason_cannot_be_read():
    """Its length is judged before anything is done with it, and the complaint stays short."""
    with pytest.raises(UnreadableEvent, match="lanes: expected at most 200 items") as refused:
        example("start", lanes=["EV1"] * 100_000)
    assert len(str(refused.value)) < 300
