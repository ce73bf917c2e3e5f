"""The life-cycle table is whole, and the fold obeys it."""

from __future__ import annotations

import itertools

import pytest

from dashboard.core.record.lifecycle import ACTIONS, STATES, TABLE
from tests.scenario import follow_at, plan_of, task

PLAN = plan_of(task("T", "EV1", 0, 30, closeout=5))

REACH = {
    "not started": "",
    "in work": "0:01 start T",
    "on hold": "0:01 start T\n0:02 hold T",
    "done": "0:01 start T\n0:02 done T",
    "broken off": "0:01 start T\n0:02 break_off T",
    "deferred": "0:01 defer T",
}


def test_the_table_has_one_entry_for_every_state_and_action():
    """No pair of state and action is left to chance."""
    assert set(TABLE) == set(itertools.product(STATES, ACTIONS))


@pytest.mark.parametrize(("state", "action"), list(itertools.product(STATES, ACTIONS)))
def test_the_fold_obeys_the_table(state, action):
    """From each state each action leads where the table says, with a discrepancy exactly where it says so."""
    log = f"0:00 clock\n{REACH[state]}\n0:10 {action} T"
    before = follow_at(PLAN, log, "0:05")
    after = follow_at(PLAN, log, "0:20")
    assert before.tasks["T"].state == state
    assert before.discrepancies == []
    assert after.tasks["T"].state == TABLE[state, action].to
    assert bool(after.discrepancies) == (TABLE[state, action].expected is not None)


@pytest.mark.parametrize("pair", [pair for pair, step in TABLE.items() if step.to == pair[0]])
def test_a_refused_event_changes_nothing_but_the_list_of_discrepancies(pair):
    """Where the state stays, the numbers of the task stay as well."""
    state, action = pair
    log = f"0:00 clock\n{REACH[state]}"
    without = follow_at(PLAN, log, "0:20").tasks["T"]
    having = follow_at(PLAN, f"{log}\n0:10 {action} T", "0:20").tasks["T"]
    assert having.model_copy(update={"events": []}) == without.model_copy(update={"events": []})


def test_done_without_start_takes_its_start_as_unknown():
    """The start is None, not a guess, and the discrepancy says what was expected."""
    state = follow_at(PLAN, "0:00 clock\n0:30 done T", "0:40")
    assert state.tasks["T"].start_pet_min is None
    assert state.tasks["T"].worked_min is None
    assert state.tasks["T"].finish_pet_min == 30
    assert "start before done" in state.discrepancies[0].expected
