"""What each kind of event does to the sortie, told in short logs."""

from __future__ import annotations

import pytest

from tests.scenario import follow_at, log_of, plan_of, task

PLAN = plan_of(
    task("A", "EV1", 0, 30, shortest=10, closeout=6)
    + task("B", "EV1", 30, 30, after=["A"])
    + task("C", "EV1", 60, 20, after=["B"])
    + task("J", "EV1 EV2", 80, 20, required=True)
    + task("D", "EV2", 0, 40, closeout=4)
    + task("E", "EV2", 40, 40, can_move_to=["EV1"])
    + task("R", "ARM", 0, 60)
    + task("G", "EV2", None, 15, get_ahead=True)
    + task("P", "EV1", 100, 10)
    + task("Q", "EV1", 100, 25)
    + """
[[contingency]]
id = "leak"
trigger = "Leak seen"
hold = ["A"]
[[contingency.task]]
id = "C1"
lanes = ["EV1"]
duration = 8
[[contingency.task]]
id = "C2"
lanes = ["EV1", "EV2"]
duration = 5
after = ["C1"]
[[alternative]]
id = "ending"
default = "short"
[alternative.options]
short = ["P"]
long = ["Q"]
[[suit]]
id = "A"
[suit.water]
loaded = 3.5
reserve = 0.4
[[check]]
id = "suit-read"
every = 30
lanes = ["EV1"]
"""
)


def complaints(log, pet):
    return [(d.expected, d.found) for d in follow_at(PLAN, log, pet).discrepancies]


def test_what_comes_after_a_deferred_task_goes_with_it():
    """Deferring A takes B and C along, and says why; reinstating A brings them back."""
    state = follow_at(PLAN, "0:00 clock\n0:05 defer A", "0:10")
    assert [state.tasks[t].state for t in "ABC"] == ["deferred"] * 3
    assert state.tasks["C"].why_out == "goes with B"
    assert state.lanes["EV1"].next == "J"
    state = follow_at(PLAN, "0:00 clock\n0:05 defer A\n0:08 reinstate A", "0:10")
    assert [state.tasks[t].state for t in "ABC"] == ["not started"] * 3


def test_reinstating_only_a_follower_is_a_discrepancy_and_applied():
    """B is put back on its own as the room meant it, and the missing A is named."""
    state = follow_at(PLAN, "0:00 clock\n0:05 defer A\n0:08 reinstate B", "0:10")
    assert state.tasks["B"].in_plan
    assert state.tasks["C"].in_plan
    assert not state.tasks["A"].in_plan
    assert state.discrepancies[0].found == "goes with A"


def test_holding_a_task_frees_its_lane():
    """With A on hold another task may start in the lane without complaint."""
    state = follow_at(PLAN, "0:00 clock\n0:00 start A\n0:10 hold A reason=glove\n0:12 start P", "0:20")
    assert state.tasks["A"].state == "on hold"
    assert state.tasks["A"].hold_reason == "glove"
    assert state.tasks["A"].worked_min == 10
    assert state.lanes["EV1"].task == "P"
    assert state.discrepancies == []


def test_a_start_in_a_busy_lane_is_applied_and_listed():
    """Both tasks are in work, and the discrepancy names the one that was not finished."""
    state = follow_at(PLAN, "0:00 clock\n0:00 start A\n0:10 start P", "0:12")
    assert state.tasks["A"].state == state.tasks["P"].state == "in work"
    assert state.discrepancies[0].found == "A still in work there"


def test_a_start_before_what_it_comes_after_is_applied_and_listed():
    """B starts although A is not done; expected and found say so."""
    assert complaints("0:00 clock\n0:05 start B", "0:10") == [("A done before B starts", "A not started")]


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


def test_a_broken_off_task_keeps_its_lane_for_its_close_out():
    """Six minutes to leave A safe; what comes after it is flagged for a decision."""
    state = follow_at(PLAN, "0:00 clock\n0:00 start A\n0:10 break_off A", "0:12")
    assert state.tasks["A"].state == "broken off"
    assert state.lanes["EV1"].state == "close-out"
    assert state.tasks["B"].projected_start_pet_min == 16
    assert [alert.id for alert in state.alerts] == ["after-broken-off-B"]
    assert state.lanes["EV1"].ahead_min == 18  # the whole planned length counts as earned
    assert follow_at(PLAN, "0:00 clock\n0:00 start A\n0:10 break_off A", "0:20").lanes["EV1"].state == "waiting"


def test_a_trim_sets_the_planned_length():
    """A trimmed to 12 min ends at 0:12; under its shortest it is applied and listed."""
    state = follow_at(PLAN, "0:00 clock\n0:00 start A\n0:02 trim A duration=12", "0:05")
    assert state.tasks["A"].projected_finish_pet_min == 12
    assert state.discrepancies == []
    assert complaints("0:00 clock\n0:02 trim A duration=5", "0:05") == [
        ("at least 10 min for A", "trim to 5 min; applied")
    ]


def test_an_estimate_replaces_the_likely_remainder_and_runs_down_with_work():
    """25 min remaining at 0:10 are 20 at 0:15, stand still on hold, and never fall below zero."""
    log = "0:00 clock\n0:00 start A\n0:10 estimate A remaining=25\n0:20 hold A"
    assert follow_at(PLAN, log, "0:15").tasks["A"].projected_finish_pet_min == 35
    assert follow_at(PLAN, log, "0:50").tasks["A"].estimate_min == 15
    late = follow_at(PLAN, "0:00 clock\n0:00 start A\n0:10 estimate A remaining=5", "0:30").tasks["A"]
    assert late.remaining_min == 0
    assert late.projected_finish_pet_min == 30


def test_choosing_an_option_swaps_the_tasks_of_the_plan_of_record():
    """Q joins and P leaves; neither is called deferred."""
    before = follow_at(PLAN, "0:00 clock", "0:05")
    assert (before.tasks["P"].in_plan, before.tasks["Q"].in_plan) == (True, False)
    assert before.alternatives_open == ["ending"]
    after = follow_at(PLAN, "0:00 clock\n0:04 choose ending option=long", "0:05")
    assert (after.tasks["P"].in_plan, after.tasks["Q"].in_plan) == (False, True)
    assert after.tasks["P"].state == "not started"
    assert after.alternatives == {"ending": "long"}
    assert after.alternatives_open == []


def test_a_decision_defers_and_trims_what_it_names():
    """The decision takes effect as if the defer and the trim had been entered."""
    state = follow_at(PLAN, '0:00 clock\n0:05 decision time defer=E trim={"A":12}', "0:10")
    assert state.tasks["E"].state == "deferred"
    assert state.tasks["A"].planned_min == 12
    assert state.basis.decisions == 1


def test_a_required_task_deferred_all_the_same_is_listed():
    """It is applied as decided, and the discrepancy says that the plan forbids it."""
    assert complaints("0:00 clock\n0:05 defer J", "0:10") == [("J not to be deferred (required)", "defer; applied")]


@pytest.mark.parametrize(("deferred", "because"), [("B", "deferred"), ("A", "goes with A")])
def test_an_alert_stands_while_a_required_task_is_deferred(deferred: str, because: str):
    """Also when it only goes along with what it comes after; it is gone once the task is back."""
    plan = plan_of(task("A", "EV1", 0, 20) + task("B", "EV1", 30, 20, after=["A"], required=True, title="Close hatch"))
    log = f"0:00 clock\n0:05 defer {deferred}"
    (alert,) = follow_at(plan, log, "0:10").alerts
    assert alert.what == f"B Close hatch is required and is not in the plan of record: {because}"
    assert alert.do.startswith("Reinstate it")
    assert follow_at(plan, f"{log}\n0:12 reinstate {deferred}", "0:15").alerts == []


def test_an_unstarted_get_ahead_has_no_place_until_it_starts():
    """G is not projected, is never 'next', and counts from its start."""
    waiting = follow_at(PLAN, "0:00 clock", "0:05")
    assert waiting.tasks["G"].projected_start_pet_min is None
    assert "G" not in waiting.lanes["EV2"].order
    begun = follow_at(PLAN, "0:00 clock\n0:00 start D\n0:40 done D\n0:40 start G", "0:45")
    assert begun.tasks["G"].projected_finish_pet_min == 55
    assert begun.tasks["E"].projected_start_pet_min == 55


def test_moves_change_lane_and_order():
    """E handed to EV1 before B."""
    state = follow_at(PLAN, "0:00 clock\n0:01 move E lane=EV1 before=B", "0:02")
    assert state.tasks["E"].lanes == ["EV1"]
    assert state.lanes["EV1"].order[:3] == ["A", "E", "B"]
    assert state.discrepancies == []
    assert complaints("0:00 clock\n0:01 move A lane=EV2", "0:02") == [
        ("A to be handed to no other lane", "handed to EV2; applied")
    ]


def test_an_added_task_goes_where_it_is_put():
    """Before a named task, or ahead of what remains."""
    add = '{"id":"X","lanes":["EV1"],"duration":5}'
    assert follow_at(PLAN, f"0:00 clock\n0:01 add {add} before=C", "0:02").lanes["EV1"].order[1:4] == ["B", "X", "C"]
    assert follow_at(PLAN, f"0:00 clock\n0:01 add {add}", "0:02").lanes["EV1"].order[:2] == ["X", "A"]


def test_readings_are_kept_as_logged():
    """The last reading is what is left; without one it is unknown."""
    state = follow_at(PLAN, "0:00 clock\n0:30 reading A water=3.1", "0:40")
    assert state.suits["A"].consumables["water"].left == 3.1
    assert state.suits["A"].consumables["water"].reading_pet_min == 30
    assert follow_at(PLAN, "0:00 clock", "0:40").suits["A"].consumables["water"].left is None


def test_recurring_checks_fall_due():
    """Every 30 min from PET zero, then from the last one made."""
    state = follow_at(PLAN, "0:00 clock\n0:33 check suit-read lane=EV1", "1:10")
    assert (state.checks[0].due_pet_min, state.checks[0].overdue_min) == (63, 7)


def test_the_end_freezes_the_sortie():
    """After the end nothing is projected and PET stands still; open tasks are listed."""
    state = follow_at(PLAN, "0:00 clock\n0:00 start A\n0:20 done A\n0:20 start B\n0:40 end", "2:00")
    assert state.ended
    assert state.pet_min == 40
    assert (state.end.actual_pet_min, state.end.closed_pet_min) == (40, 40)  # B was in work until then
    assert state.tasks["C"].projected_start_pet_min is None
    assert state.discrepancies[0].found == "B"


@pytest.mark.parametrize(
    ("log", "is_in"),
    [
        ("0:00 start A\n0:20 done A\n4:00 end", 20),
        ("0:00 start A\n0:20 done A\n0:20 start B\n4:00 end", 240),
        ("4:00 end", 240),
    ],
    ids=["done", "in work when it was closed", "nothing done"],
)
def test_the_margin_of_a_sortie_that_is_over_is_that_of_when_the_crew_was_in(log: str, is_in: float):
    """Closing the log later moves nothing: limit less actual end is the margin."""
    state = follow_at(PLAN, f"0:00 clock\n{log}", "5:00")
    assert (state.end.actual_pet_min, state.end.closed_pet_min) == (is_in, 240)
    assert state.end.margin_min == state.limit.pet_min - is_in


def test_events_that_name_unknown_things_are_kept_unread():
    """The event is shown verbatim with the nearest known name, and nothing else stops."""
    state = follow_at(PLAN, "0:00 clock\n0:05 start T999\n0:06 start A", "0:10")
    assert "T999" in state.unread[0].line
    assert "expected the name of a known task" in state.unread[0].why
    assert state.tasks["A"].state == "in work"


def test_a_task_may_be_named_before_the_event_that_adds_it_comes_in():
    """Order of arrival does not decide whether a name is known."""
    log = '0:00 clock\n0:06 start X\n0:05 add {"id":"X","lanes":["EV1"],"duration":5}'
    state = follow_at(PLAN, log, "0:10")
    assert state.unread == []
    assert state.tasks["X"].state == "in work"


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


def test_what_is_reinstated_comes_behind_a_contingency_under_way():
    """Contingency tasks go ahead of the rest of their lanes, and what comes back is part of that rest."""
    plan = plan_of(
        task("A", "EV1", 0, 30) + task("B", "EV1", 30, 30) + '[[contingency]]\nid = "leak"\n'
        + task("C1", "EV1", None, 5).replace("[[task]]", "[[contingency.task]]")
        + task("C2", "EV1", None, 5).replace("[[task]]", "[[contingency.task]]")
    )
    log = "0:00 clock\n0:01 defer A\n0:02 insert leak\n0:02 start C1\n0:07 done C1\n0:08 reinstate A"
    assert follow_at(plan, log, "0:10").lanes["EV1"].order == ["C2", "A", "B"]
