"""The debrief: where the minutes of a lane went, what the room knew, and what is left."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboard.core.base.times import parse_instant
from dashboard.core.debrief.facts import Debrief, LedgerLine
from dashboard.core.debrief.lane_time import Piece, partition
from dashboard.core.debrief.look_back import debrief, lane_debriefs
from dashboard.core.events.kinds import parse_event
from dashboard.core.plan.model import Plan
from tests.core.state.test_properties import PLAN as ANY_PLAN
from tests.core.state.test_properties import logs
from tests.scenario import at, follow_at, log_of, plan_of, task

PLAN = plan_of(
    task("T010", "EV1", 0, 30, title="Unstow")
    + task("T020", "EV1", 30, [20, 30, 50], closeout=4, shortest=10)
    + task("T030", "EV2", 0, 60)
    + task("T040", "EV1 EV2", 65, 20, after=["T020", "T030"])
)


def made(plan: Plan, log: str, pet: str | float) -> Debrief:
    return debrief(plan, log_of(log), parse_instant(at(pet)), draws=0)


def lines(facts: Debrief, lane: str) -> dict[tuple[str, str | None], float]:
    return {(line.kind, line.task): round(line.minutes, 6) for line in facts.lanes[lane].ledger}


def line(facts: Debrief, lane: str, kind: str, task_id: str | None = None) -> LedgerLine:
    found = [one for one in facts.lanes[lane].ledger if one.kind == kind and (task_id is None or one.task == task_id)]
    assert len(found) == 1, facts.lanes[lane].ledger
    return found[0]


def test_a_sortie_that_ended_before_its_pet_zero_adds_up():
    """Nonsense, but no reason to lose a minute: PET zero was entered again, after the end."""
    facts = made(PLAN, "-0:01 start T010\n-0:01 end\n0:00 clock", "0:01")
    assert sum(one.minutes for one in facts.lanes["EV1"].ledger) == pytest.approx(facts.lanes["EV1"].difference_min)


@settings(max_examples=200, deadline=None)
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


@settings(max_examples=200, deadline=None)
@given(log=logs(), pet=st.integers(-5, 330))
def test_the_stretches_of_a_lane_follow_each_other(log, pet):
    """They neither overlap nor leave gaps, and end with the lane's last work."""
    for lane in lane_debriefs(ANY_PLAN, log, parse_instant(at(pet))).values():
        for first, second in zip(lane.segments, lane.segments[1:], strict=False):
            assert first.to_pet_min == second.from_pet_min
        if lane.segments:
            assert lane.segments[-1].to_pet_min == lane.end_pet_min


@settings(max_examples=40, deadline=None)
@given(log=logs(), pet=st.integers(-5, 330))
def test_any_log_can_be_debriefed(log, pet):
    """However odd the log, there is a debrief, and what is left is no task that is done."""
    facts = debrief(ANY_PLAN, log, parse_instant(at(pet)), draws=0)
    done = {row.task for lane in facts.lanes.values() for row in lane.tasks if row.state == "done"}
    assert not done & {one.task for one in facts.carry_over}


def test_stronger_work_has_the_minute():
    """Of two tasks in one lane the one that began later has the time; what nothing claims is idle."""
    found = partition([Piece(0, 20, "work", "A"), Piece(10, 15, "work", "B"), Piece(0, 30, "hold", "C")], 0, 40)
    assert [(s.kind, s.task, s.minutes) for s in found] == [
        ("work", "A", 10), ("work", "B", 5), ("work", "A", 5), ("hold", "C", 10), ("idle", None, 10),
    ]  # fmt: skip


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


def test_the_lane_end_is_that_of_the_state():
    """The debrief and the board agree on when a lane was, or will be, through."""
    log = "0:00 clock\n0:00 start T010\n0:00 start T030\n0:41 done T010\n0:42 start T020"
    facts, state = made(PLAN, log, "0:55"), follow_at(PLAN, log, "0:55")
    assert facts.so_far
    assert {name: lane.end_pet_min for name, lane in facts.lanes.items() if lane.end_pet_min} == {
        name: lane.end_pet_min for name, lane in state.lanes.items() if lane.end_pet_min
    }


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


def test_what_is_left_and_how_much_of_it():
    """Deferred: the whole; broken off: the estimate, else the rest; options not taken are no carry-over."""
    plan = plan_of(
        task("T010", "EV1", 0, 30, closeout=2) + task("T020", "EV1", 30, 30, after=["T010"])
        + task("T030", "EV2", 0, 60, closeout=2) + task("T050", "EV2", 60, 10) + task("T060", "EV2", None, 10)
        + task("T070", "EV1", 60, 10, closeout=1)
        + '[[alternative]]\nid = "x"\ndefault = "a"\noptions = { a = ["T050"], b = ["T060"] }\n'
    )
    facts = made(plan, """
        0:00 clock
        0:00 start T010
        0:00 start T030
        0:20 estimate T010 remaining=15
        0:25 break_off T010
        0:25 defer T020
        0:30 break_off T030
        0:30 start T070
        0:45 break_off T070
        0:50 end
    """, "0:50")
    left = {one.task: (one.because, one.remaining_min, one.remaining_from) for one in facts.carry_over}
    assert left == {
        "T010": ("broken off", 10, "estimate"),
        "T020": ("deferred", 30, "briefed length"),
        "T030": ("broken off", 30, "briefed length less work done"),
        "T050": ("not done", 10, "briefed length"),
        "T070": ("broken off", 10, "briefed length again"),
    }
    assert next(one for one in facts.carry_over if one.task == "T020").after_left == ["T010"]


def test_while_the_sortie_goes_on_only_what_was_given_up_is_left():
    """What may still be done is no carry-over."""
    facts = made(PLAN, "0:00 clock\n0:00 start T010\n0:10 defer T040", "0:20")
    assert facts.so_far
    assert [one.task for one in facts.carry_over] == ["T040"]


def test_a_sortie_of_which_nothing_is_known():
    """Before PET zero and with an empty log there is a debrief, with nothing in it that was not computed."""
    facts = debrief(PLAN, [], parse_instant(at("-0:10")), draws=0)
    assert facts.projections == [] and facts.decisions == [] and facts.carry_over == []
    assert all(lane.end_pet_min == sum(s.minutes for s in lane.segments) for lane in facts.lanes.values() if lane.segments)
