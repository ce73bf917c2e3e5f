"""Ahead and behind: the earned-schedule definition, case by case."""

from __future__ import annotations

import random

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.record.kept import KeptFold
from dashboard.core.record.lifecycle import IN_WORK
from dashboard.core.schedule.ahead import lane_standing
from tests.scenario import at, follow_at, log_of, plan_of, task

GAP = plan_of(task("A", "EV1", 0, 30) + task("B", "EV1", 50, 30))


@pytest.mark.parametrize(
    ("log", "pet", "ahead"),
    [
        ("0:00 clock", "0:10", -10),  # nothing begun: the first briefed start less now
        ("0:00 clock\n0:00 start A", "0:10", 0),
        ("0:00 clock\n0:05 start A", "0:10", -5),
        ("0:00 clock\n0:00 start A", "0:40", -10),  # A still in work: the gap behind it is not credited
        ("0:00 clock\n0:00 start A\n0:40 hold A", "0:45", -15),  # nor while it is on hold
        ("0:00 clock\n0:00 start B", "0:40", -10),  # B before A: the gap between them is not credited before A is over
        ("0:00 clock\n0:00 start B\n0:30 done B\n0:30 start A", "0:40", 0),
        ("0:00 clock\n0:00 start A\n0:30 done A\n0:45 start B", "0:45", 5),  # the wait is past as soon as B begins
        ("0:00 clock\n0:00 start A\n0:30 done A\n0:45 start B\n0:45 hold B", "0:48", 2),
        ("0:00 clock\n0:00 start A\n0:35 done A", "0:40", 0),  # 5 min long, but inside the briefed gap
        ("0:00 clock\n0:00 start A\n0:20 done A", "0:20", 10),  # early: the gap begins at 0:30
        ("0:00 clock\n0:00 start A\n0:35 done A", "0:58", -8),
        ("0:00 clock\n0:00 start A\n0:30 done A\n0:45 start B", "0:55", 5),
        ("0:00 clock\n0:00 start A\n0:10 estimate A remaining=30", "0:10", -2.5),  # 30 x 10/(10+30) = 7.5 earned
        ("0:00 clock\n0:00 start A\n0:10 hold A", "0:25", -15),
        ("0:00 clock\n0:00 start A\n0:10 hold A\n0:20 resume A", "0:25", -10),
        ("0:00 clock\n0:00 start A\n0:40 done A\n0:50 start B\n1:30 done B", "2:00", -10),  # frozen at the end
        ("0:00 clock\n0:01 defer A", "0:45", 0),  # only B counts now: a briefed wait until 0:50
        ("0:00 clock\n0:00 start A\n0:10 trim A duration=20\n0:20 done A\n0:20 start B", "0:30", 30),
        ("0:00 clock\n0:00 start A\n0:10 extend A duration=60", "0:20", 0),  # the decision alone costs nothing
        ("0:00 clock\n0:00 start A\n0:10 extend A duration=60", "0:58", -28),  # A earns no more than its brief
        ("0:00 clock\n0:00 start A\n0:10 extend A duration=60\n1:00 done A\n1:00 start B", "1:05", -10),
        ("0:00 clock\n0:00 start A\n0:10 extend A duration=60\n0:20 estimate A remaining=20", "0:20", -5),  # 30 x 20/40
    ],
)
def test_minutes_ahead_of_a_lane(log, pet, ahead):
    """Earned PET less now, with a briefed wait that is no delay."""
    assert follow_at(GAP, log, pet).lanes["EV1"].ahead_min == pytest.approx(ahead)


def test_before_pet_zero_it_is_unknown():
    """A lane is neither ahead nor behind before the suits are on battery power."""
    state = follow_at(GAP, "", "-0:10")
    assert state.pet_min == -10
    assert state.lanes["EV1"].ahead_min is None


def test_the_clock_event_sets_the_real_pet_zero():
    """The planned start is only taken until the clock event says otherwise."""
    state = follow_at(GAP, "0:12 clock\n0:12 start A", "0:20")
    assert state.pet_min == 8
    assert state.lanes["EV1"].ahead_min == 0
    assert state.basis.pet_zero_from == "clock event"


def test_a_lane_without_briefed_work_is_neither_ahead_nor_behind():
    """No briefed work: None, not zero."""
    assert follow_at(GAP, "0:00 clock", "0:20").lanes["ARM"].ahead_min is None


def test_a_moved_task_counts_in_its_new_lane():
    """Handing B over leaves EV1 with A alone, and EV2 with B from its briefed start."""
    plan = plan_of(task("A", "EV1", 0, 30) + task("B", "EV1", 50, 30, can_move_to=["EV2"]))
    state = follow_at(plan, "0:00 clock\n0:00 start A\n0:30 done A\n0:31 move B lane=EV2", "1:00")
    assert state.lanes["EV1"].ahead_min == 0
    assert state.lanes["EV1"].ahead_frozen
    assert state.lanes["EV2"].ahead_min == -10
    assert state.discrepancies == []


def test_inserted_and_added_tasks_cost_time_and_earn_nothing():
    """Ten minutes on an unplanned task put the lane ten minutes behind."""
    log = """0:00 clock
    0:00 add {"id":"X","lanes":["EV1"],"duration":10}
    0:00 start X
    0:10 done X
    0:10 start A"""
    assert follow_at(GAP, log, "0:20").lanes["EV1"].ahead_min == -10


def test_with_inserted_work_still_open_the_lane_goes_on_falling_behind():
    """All briefed work earned is not the end of the lane while an added task is in work."""
    log = """0:00 clock
    0:00 start A
    0:30 done A
    0:50 start B
    1:20 done B
    1:20 add {"id":"X","lanes":["EV1"],"duration":10}
    1:20 start X"""
    assert follow_at(GAP, log, "1:27").lanes["EV1"].ahead_min == -7


def test_work_that_was_not_briefed_does_not_keep_a_gap_from_being_credited():
    """Ten minutes on an added task inside the briefed gap cost nothing."""
    log = """0:00 clock
    0:00 start A
    0:30 done A
    0:32 add {"id":"X","lanes":["EV1"],"duration":10}
    0:32 start X"""
    assert follow_at(GAP, log, "0:40").lanes["EV1"].ahead_min == 0


def random_sortie(seed):
    """A plan of six tasks in one lane with gaps between them, overlaps too, and a log that goes through them in any order."""
    rng = random.Random(seed)
    text, free = "", rng.choice((0, 10))
    for i in range(6):
        minutes = rng.randint(5, 30)
        text += task(f"T{i}", "EV1", free, minutes, shortest=2, closeout=rng.randint(0, 6))
        free += max(0, minutes + rng.choice((-4, 0, 0, 12, 30)))
    lines, now, waiting, in_work, on_hold = ["0 clock"], 0.0, [f"T{i}" for i in range(6)], [], []
    for _ in range(25):
        now = round(now + rng.uniform(0, 14), 2)
        kind = rng.choice(("start", "start", "done", "done", "done", "hold", "resume", "break_off", "trim", "defer"))
        names = {"start": waiting[:2] if not in_work else [], "resume": on_hold if not in_work else [], "trim": in_work + waiting,
                 "defer": waiting[2:]}.get(kind, in_work)
        if not names:
            continue
        name = rng.choice(names)
        lines.append(f"{now} {kind} {name}" + (f" duration={rng.randint(2, 20)}" if kind == "trim" else ""))
        if kind != "trim":
            for group in (waiting, in_work, on_hold):
                if name in group:
                    group.remove(name)
            {"start": in_work, "resume": in_work, "hold": on_hold}.get(kind, []).append(name)
    return plan_of(text), lines, now


@pytest.mark.parametrize("seed", range(60))
def test_between_events_the_figure_moves_by_no_more_than_the_minutes_that_passed(seed):
    """Random plans and logs, one task in hand at a time, asked every half minute and just after each event."""
    plan, lines, last = random_sortie(seed)
    log, events = log_of("\n".join(lines)), sorted({float(line.split()[0]) for line in lines})
    fold = KeptFold(plan)

    def figure(pet):
        record = fold.reconcile(log, parse_instant(at(pet)))
        assert sum(run.state == IN_WORK for run in record.runs.values()) <= 1
        return lane_standing(record, "EV1", list(record.runs.values())).ahead_min

    for begin, end in zip(events, [*events[1:], last + 40], strict=True):
        asked = [begin + 0.5 * i for i in range(int((end - begin) / 0.5) + 1) if begin + 0.5 * i < end]
        figures = [figure(pet) for pet in asked]
        for sooner, later in zip(figures, figures[1:], strict=False):
            assert (sooner is None) == (later is None)
            if sooner is not None:
                assert abs(later - sooner) <= 0.5 + 1e-6
