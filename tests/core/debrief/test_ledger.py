"""Where the minutes of a lane went: lines that add up."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.core.base.times import parse_instant
from dashboard.core.debrief.look_back import lane_debriefs
from tests.core.debrief.made import PLAN, line, lines, made
from tests.core.state.test_properties import PLAN as ANY_PLAN
from tests.core.state.test_properties import logs
from tests.scenario import at, plan_of, task


def test_a_sortie_that_ended_before_its_pet_zero_adds_up():
    """Nonsense, but no reason to lose a minute: PET zero was entered again, after the end."""
    facts = made(PLAN, "-0:01 start T010\n-0:01 end\n0:00 clock", "0:01")
    assert sum(one.minutes for one in facts.lanes["EV1"].ledger) == pytest.approx(facts.lanes["EV1"].difference_min)


@given(log=logs(), pet=st.integers(-5, 330))
def test_the_ledger_adds_up_whatever_the_log_says(log, pet):
    """In every lane the lines add up to actual end less briefed end, also when the log is nonsense."""
    for lane in lane_debriefs(ANY_PLAN, log, parse_instant(at(pet))).values():
        if lane.difference_min is not None:
            assert sum(one.minutes for one in lane.ledger) == pytest.approx(lane.difference_min, abs=1e-6)


def test_a_lane_that_ends_with_work_of_no_length():
    """The minutes before a start in the minute of the end are a wait like any other."""
    facts = made(PLAN, "0:00 clock\n0:12 start T010\n0:12 end", "0:12")
    assert sum(one.minutes for one in facts.lanes["EV1"].ledger) == pytest.approx(12 - 85)


def test_overruns_holds_and_waits_are_told_apart():
    """T010 takes 5 longer, T020 is held 8 for a reason, EV2 waits for EV1, and the briefed gap before T040 is used up."""
    facts = made(PLAN, """
        0:00 clock
        0:00 start T010
        0:00 start T030
        0:35 done T010
        0:35 start T020
        0:50 hold T020 reason=reel
        0:58 resume T020
        1:00 done T030
        1:13 done T020
        1:13 start T040
        1:33 done T040
        1:34 end
    """, "1:34")
    assert facts.lanes["EV1"].difference_min == facts.lanes["EV2"].difference_min == 8
    assert lines(facts, "EV1") == {("overrun", "T010"): 5, ("hold", "T020"): 8, ("gap not used", "T040"): -5}
    assert line(facts, "EV1", "hold").why == "reel"
    assert lines(facts, "EV2") == {("wait", "T040"): 8}
    wait = line(facts, "EV2", "wait")
    assert (wait.waited_for, wait.name) == ("lane", "EV1")


def test_what_is_given_up_wins_minutes():
    """A trim wins its cut, a deferral the whole length, a break-off what was not worked, and its close-out costs."""
    begun = "0:00 clock\n0:00 start T010\n0:30 done T010\n"
    trimmed = made(PLAN, f"{begun}0:30 trim T020 duration=20\n0:30 start T020\n0:53 done T020", "0:53")
    assert line(trimmed, "EV1", "trimmed", "T020").minutes == -10
    assert line(trimmed, "EV1", "overrun", "T020").minutes == pytest.approx(3)
    deferred = made(PLAN, "0:00 clock\n0:10 defer T040", "0:20")
    assert line(deferred, "EV1", "deferred", "T040").minutes == -20
    broken = made(PLAN, f"{begun}0:30 start T020\n0:40 break_off T020", "0:45")
    assert line(broken, "EV1", "broken off", "T020").minutes == pytest.approx(-20)
    assert line(broken, "EV1", "close-out", "T020").minutes == 4


@pytest.mark.parametrize(
    ("more", "waited_for", "name"),
    [
        ('needs=["sun"]', "window", "sun"),
        ("not_before", "not before", None),
        ("settling", "settling", "T010"),
        ("arm", "arm", "ARM"),
        ("nothing", "no reason", None),
    ],
)
def test_what_a_wait_was_for(more, waited_for, name):
    """A window, a time, a line that settles, the arm; and no reason is made up where plan and log give none."""
    extra = {
        'needs=["sun"]': {"needs": ["sun"]},
        "not_before": {"not_before": 50},
        "settling": {"follows": [{"task": "T010", "lag": 20}]},
        "arm": {"after": ["T090"]},
        "nothing": {},
    }[more]
    window = '[[window]]\nkind = "sun"\nfrom = 50\nto = 120\n'
    plan = plan_of(window + task("T010", "EV1", 0, 30) + task("T090", "ARM", 0, 30) + task("T020", "EV1", 30, 20, **extra))
    facts = made(plan, """
        0:00 clock
        0:00 start T010
        0:00 start T090
        0:30 done T010
        0:50 done T090
        0:50 start T020
        1:10 done T020
    """, "1:10")
    wait = line(facts, "EV1", "wait", "T020")
    assert (wait.minutes, wait.waited_for, wait.name) == (20, waited_for, name)


def test_a_start_that_was_not_entered_is_no_overrun():
    """Done without a start: nobody can tell work from waiting, and the line says so."""
    facts = made(PLAN, "0:00 clock\n0:45 done T010\n0:45 start T020", "0:50")
    assert line(facts, "EV1", "start not known", "T010").minutes == 15
    assert facts.lanes["EV1"].tasks[0].worked_min is None


def test_a_task_that_was_handed_over_moves_its_minutes():
    """The lane that gave it away wins its length, the lane that took it over loses what it took."""
    plan = plan_of(task("T010", "EV1", 0, 30, can_move_to=["EV2"]) + task("T020", "EV1", 30, 10) + task("T030", "EV2", 0, 10))
    facts = made(plan, """
        0:00 clock
        0:00 move T010 lane=EV2
        0:00 start T010
        0:00 start T020
        0:10 done T020
        0:33 done T010
    """, "0:33")
    assert line(facts, "EV1", "handed over", "T010").minutes == -30
    assert line(facts, "EV2", "taken over", "T010").minutes == 33


def test_what_an_extend_adds_is_a_line_of_its_own():
    """The decision is answerable for its minutes; only what runs beyond the new length took longer."""
    log = "0:00 clock\n0:00 start T010\n0:30 done T010\n0:31 extend T020 duration=45\n0:31 start T020\n1:20 done T020"
    facts = made(PLAN, log, "1:20")
    assert line(facts, "EV1", "extended", "T020").minutes == 15
    assert line(facts, "EV1", "overrun", "T020").minutes == pytest.approx(4)
