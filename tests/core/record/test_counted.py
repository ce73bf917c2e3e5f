"""Which events count, and what becomes of the others."""

from __future__ import annotations

from tests.core.sorties import PLAN
from tests.scenario import follow_at, log_of


def test_events_that_name_unknown_things_are_kept_unread():
    """The event is shown verbatim with the nearest known name, and nothing else stops."""
    state = follow_at(PLAN, "0:00 clock\n0:05 start T999\n0:06 start A", "0:10")
    assert "T999" in state.unread[0].line
    assert "expected the name of a known task" in state.unread[0].why
    assert state.tasks["A"].state == "in work"


def test_withdrawals_in_a_ring_count_for_nothing():
    """Two withdrawals that name each other are listed and change nothing."""
    state = follow_at(PLAN, "0:00 clock\n0:01 withdraw e3\n0:02 withdraw e2", "0:30")
    assert len(state.discrepancies) == 2
    assert state.basis.pet_zero_from == "clock event"


def test_an_answer_to_an_event_that_is_not_there_is_listed():
    """It waits for its event, and says so meanwhile."""
    state = follow_at(PLAN, "0:00 clock\n0:10 withdraw e99", "0:30")
    assert "e99" in state.discrepancies[0].found


def test_the_same_id_twice_is_the_same_event():
    """A repeated event changes nothing; other content under a used id is kept unread."""
    events = log_of("0:00 clock\n0:10 start A")
    again = events[1].model_copy(update={"seq": 3})
    other = events[1].model_copy(update={"seq": 4, "task": "D"})
    assert follow_at(PLAN, [*events, again], "0:20").unread == []
    state = follow_at(PLAN, [*events, other], "0:20")
    assert "used before" in state.unread[0].why
    assert state.tasks["D"].state == "not started"
