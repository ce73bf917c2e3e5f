"""Which events count, and what becomes of the others."""

from __future__ import annotations

import pytest

from dashboard.core.record.counted import in_rings
from tests.core.sorties import PLAN
from tests.scenario import at, follow_at, log_of


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


def test_an_amendment_of_an_answer_is_listed():
    """It changes nothing; a withdrawal of an answer does, and is not listed."""
    log = "0:00 clock\n0:01 note text=x\n0:02 amend e2 text=y\n0:03 amend e3 text=z"
    (odd,) = follow_at(PLAN, log, "0:30").discrepancies
    assert odd.event == "e4" and odd.found.startswith("'e3', an answer to 'e2'; nothing was changed")
    assert follow_at(PLAN, log.replace("0:03 amend e3 text=z", "0:03 withdraw e3"), "0:30").discrepancies == []


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


class Counting(dict[str, str]):
    """Counts how often a key is looked up."""

    looked_up = 0

    def __getitem__(self, key: str) -> str:
        self.looked_up += 1
        return super().__getitem__(key)


@pytest.mark.parametrize("ring", [False, True], ids=["a chain", "a ring"])
def test_each_answer_of_a_long_chain_is_looked_at_once(ring: bool):
    """The search for rings takes a time in proportion to the number of answers."""
    answers = Counting({f"w{n}": f"w{n - 1}" for n in range(1, 3001)} | ({"w0": "w3000"} if ring else {}))
    found = in_rings(list(answers), answers)
    assert len(found) == (3001 if ring else 0)
    assert answers.looked_up <= len(answers)


@pytest.mark.parametrize(("length", "state"), [(3000, "in work"), (3001, "not started")])
def test_a_long_chain_of_withdrawals_counts_to_its_end(length: int, state: str):
    """Each takes back the one before; an even number of them leaves the start."""
    lines = ["0:00 clock", "0:01 start A", *(f"0:02 withdraw e{n}" for n in range(2, length + 2))]
    found = follow_at(PLAN, "\n".join(lines), "0:10")
    assert found.tasks["A"].state == state
    assert found.discrepancies == []


def test_many_amendments_of_one_event_are_applied_in_order():
    """The last one stands."""
    lines = ["0:00 clock", "0:01 start A", *(f'0:02 amend e2 changes={{"at":"{at(n / 100)}"}}' for n in range(1, 3001))]
    assert follow_at(PLAN, "\n".join(lines), "1:00").tasks["A"].start_pet_min == 30


def test_an_event_that_does_not_fit_in_several_ways_is_one_discrepancy():
    """What was expected and what was found of it stand in the same order."""
    (one,) = follow_at(PLAN, "0:00 clock\n0:00 start A\n0:01 hold lane=EV2\n0:02 start C lanes=EV1,EV2", "0:10").discrepancies
    assert one.event == "e4"
    assert one.expected == "B done before C starts; lane EV1 free to start C; lane EV2 resumed before work starts in it"
    assert one.found == "B not started; A still in work there; lane EV2 on hold"
