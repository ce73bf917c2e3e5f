"""The debrief: what the room knew when it decided, and what it could expect at each quarter of an hour."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboard.core.base.times import parse_instant
from dashboard.core.debrief.look_back import debrief
from dashboard.core.events.kinds import parse_event
from tests.core.debrief.made import PLAN, made
from tests.core.state.test_properties import PLAN as ANY_PLAN
from tests.core.state.test_properties import logs
from tests.scenario import at, log_of, plan_of, task


@settings(max_examples=40)
@given(log=logs(), pet=st.integers(-5, 330))
def test_any_log_can_be_debriefed(log, pet):
    """However odd the log, there is a debrief, and what is left is no task that is done."""
    facts = debrief(ANY_PLAN, log, parse_instant(at(pet)), draws=0)
    done = {row.task for lane in facts.lanes.values() for row in lane.tasks if row.state == "done"}
    assert not done & {one.task for one in facts.carry_over}


def test_a_decision_shows_what_was_known_when_it_was_made():
    """An overrun that happened before the decision but was entered after it is not among its figures."""
    log = log_of("""
        0:00 clock
        0:00 start T010
        0:00 start T030
        0:50 done T010
        0:50 start T020
        0:55 defer T040
        1:20 done T020
    """)
    late = [e.model_copy(update={"received": parse_instant(at("1:00"))}) if e.id in ("e4", "e5") else e for e in log]
    now = parse_instant(at("1:20"))
    in_time, not_in_time = (debrief(PLAN, some, now, draws=0).decisions[0] for some in (log, late))
    assert in_time.end_pet_min == 100  # T020 from 0:50, then T040
    assert not_in_time.end_pet_min == 105  # T010 thought to end now, at 0:55
    assert (in_time.pet_min, in_time.kind) == (55, "defer")
    assert in_time.end_after_pet_min == 80


def test_a_decision_that_was_entered_late_says_on_which_figures_and_which_there_were_at_its_time():
    """As recorded with it, in words; one that was entered in time says neither."""
    log = log_of("""
        0:00 clock
        0:20 decision text=Late defer=T040 figures={"pet_min":40,"in_by_limit":0.5,"then":{"pet_min":20,"in_by_limit":0.93}}
        0:30 decision text=Prompt figures={"pet_min":30,"in_by_limit":0.8}
    """)
    late, prompt = debrief(PLAN, log, parse_instant(at("0:45")), draws=0).decisions
    assert late.entered_on == "the figures of PET 0:40, chance in time 50 %"
    assert late.shown_then == "the figures of PET 0:20, chance in time 93 %"
    assert (prompt.entered_on, prompt.shown_then) == (None, None)


CONTINGENT = plan_of(
    task("T010", "EV1", 0, 30)
    + task("T030", "EV2", 0, 100)
    + '[[contingency]]\nid = "leak"\nhold = ["T030"]\n'
    + '[[contingency.task]]\nid = "C010"\nlanes = ["EV2"]\nduration = 10\n'
)


@pytest.mark.parametrize("received", [False, True], ids=["no receipt", "received to the minute"])
def test_what_followed_a_decision_in_its_minute_is_not_part_of_before(received):
    """EV2 is in by 1:40, with a contingency of 10 min by 1:50; the hold and the start are logged in the same minute."""
    log = log_of("0:00 clock\n0:00 start T030\n0:55 insert leak\n0:55 hold T030\n0:55 start C010")
    if received:
        log = [e.model_copy(update={"received": e.at}) for e in log]
    found = debrief(CONTINGENT, log, parse_instant(at("0:56")), draws=0).decisions
    assert [(one.end_pet_min, one.end_after_pet_min) for one in found] == [(100, 110)]


def test_what_was_received_before_a_decision_is_known_whatever_its_number():
    """In a replay what is entered has a number above the whole run; it was known all the same."""
    log = log_of("0:00 clock\n0:00 start T010\n0:00 start T030\n0:55 insert leak\n0:50 estimate T030 remaining=70")
    received = [e.model_copy(update={"received": e.at}) for e in log]
    now = parse_instant(at("0:56"))
    entered_after, known = (debrief(CONTINGENT, some, now, draws=0).decisions[0] for some in (log, received))
    assert entered_after.end_pet_min == 100
    assert (known.end_pet_min, known.end_after_pet_min) == (120, 130)


def test_a_decision_whose_time_was_corrected_counts_at_its_right_time():
    """Entered as of 0:58, amended to 0:55: with it there is the contingency at 0:55."""
    log = log_of("0:00 clock\n0:00 start T010\n0:00 start T030\n0:58 insert leak\n0:59 amend e4")
    log[-1] = parse_event({"id": "e5", "seq": 5, "at": at("0:59"), "kind": "amend", "event": "e4", "changes": {"at": at("0:55")}})
    found = debrief(CONTINGENT, log, parse_instant(at("1:00")), draws=0).decisions
    assert [(one.pet_min, one.end_pet_min, one.end_after_pet_min) for one in found] == [(55, 100, 110)]


def test_one_count_of_decisions():
    """Breaking off is one, and so is what changed nothing: the debrief lists as many as its figures say they rest on."""
    facts = made(PLAN, """
        0:00 clock
        0:00 start T010
        0:30 done T010
        0:30 start T020
        0:40 break_off T020
        0:41 defer T040
        0:42 move T020 before=T040
    """, "0:45")
    assert [one.kind for one in facts.decisions] == ["break_off", "defer", "move"]
    assert facts.basis == "the briefed plan and 3 decisions"


def test_a_quarter_of_an_hour_between_projections():
    """From PET zero until the crew was in, each with what was known then; the last ones close in on the actual end."""
    facts = made(PLAN, """
        0:00 clock
        0:00 start T010
        0:00 start T030
        0:30 done T010
        0:30 start T020
        1:00 done T020
        1:00 done T030
        1:00 start T040
        1:25 done T040
        1:26 end
    """, "1:26")
    assert [point.pet_min for point in facts.projections] == [0, 15, 30, 45, 60, 75]
    assert facts.projections[-1].plan_pace_pet_min == 80
    assert facts.end.pet_min == 85
    assert facts.end.difference_min == 0


def test_a_sortie_of_which_nothing_is_known():
    """Before PET zero and with an empty log there is a debrief, with nothing in it that was not computed."""
    facts = debrief(PLAN, [], parse_instant(at("-0:10")), draws=0)
    assert facts.projections == [] and facts.decisions == [] and facts.carry_over == []
    assert all(lane.end_pet_min == sum(s.minutes for s in lane.segments) for lane in facts.lanes.values() if lane.segments)
