"""The waits of each lane as briefed."""

from __future__ import annotations

from dashboard.core.brief.waits import finish_of, in_order, waits_of
from tests.core.brief.made import PLAN, changed

WAITS = {(one.lane, one.from_pet_min): one for one in waits_of(PLAN)}


def test_a_wait_lies_between_two_tasks_of_a_lane():
    """With its lane, its length, and the task that ends it; the time before a lane's first task is one too."""
    assert {(lane, begin): (one.to_pet_min, one.before) for (lane, begin), one in WAITS.items()} == {
        ("ARM", 0): (20, "CARRY"), ("EV2", 35): (70, "JOIN"), ("EV1", 50): (70, "JOIN"), ("ARM", 65): (70, "JOIN"),
        ("EV1", 100): (105, "HOME"), ("EV2", 90): (105, "HOME"),
    }


def test_it_says_what_is_waited_for():
    """The last of what the next task needs, if that ends after the lane is free; a lag counts; else no reason is briefed."""
    assert (WAITS["EV1", 50].wait.kind, WAITS["EV1", 50].wait.name) == ("task", "CARRY")
    assert WAITS["EV1", 100].wait.kind == "no reason"
    assert (WAITS["EV2", 90].wait.kind, WAITS["EV2", 90].wait.name) == ("lane", "EV1")


def test_a_window_and_a_not_before_are_waited_for():
    """When nothing else lets the task begin later."""
    window = changed(('id = "CARRY"\n', 'id = "CARRY"\nneeds = ["daylight"]\n'))
    found = {(one.lane, one.before): one.wait for one in waits_of(window)}
    assert (found["ARM", "CARRY"].kind, found["ARM", "CARRY"].name) == ("window", "daylight")
    timed = changed(('id = "PREP"\n', 'id = "PREP"\nnot_before = 25\n'), ('start = 20\nworksite = "mast"\n[[task]]\nid = "JOIN"',
                                                                         'start = 25\nworksite = "mast"\n[[task]]\nid = "JOIN"'))
    assert next(one for one in waits_of(timed) if one.before == "PREP").wait.kind == "not before"


def test_what_fits_into_it():
    """A get-ahead at the worksite where the lane is, and work that may be handed over or brought forward, if it fits."""
    assert [(fill.task, fill.how, fill.min) for fill in WAITS["EV2", 35].fills] == [("CLEAN", "get-ahead", 12)]
    assert [fill.task for fill in WAITS["EV1", 50].fills] == ["KEEP"] and WAITS["EV1", 50].fills[0].how == "bring forward"
    assert WAITS["EV1", 100].fills == []
    handed = changed(('id = "KEEP"\n', 'id = "KEEP"\ncan_move_to = ["EV2"]\n'))
    fills = next(one for one in waits_of(handed) if one.lane == "EV2" and one.from_pet_min == 35).fills
    assert [(fill.task, fill.how) for fill in fills] == [("KEEP", "hand over"), ("CLEAN", "get-ahead")]


def test_what_comes_after_something_not_yet_done_does_not_fit():
    """Nor does work at another worksite."""
    later = changed(('id = "KEEP"\n', 'id = "KEEP"\nafter = ["JOIN"]\n'))
    assert next(one for one in waits_of(later) if one.lane == "EV1" and one.from_pet_min == 50).fills == []
    away = changed(('id = "CLEAN"\nlanes = ["EV2"]\nduration = 12\nget_ahead = true\nworksite = "mast"',
                    'id = "CLEAN"\nlanes = ["EV2"]\nduration = 12\nget_ahead = true\nworksite = "airlock"'))
    assert next(one for one in waits_of(away) if one.lane == "EV2" and one.from_pet_min == 35).fills == []


def test_tasks_are_ordered_by_their_briefed_start():
    """And as in the plan where they begin together."""
    tasks = [task for task in PLAN.tasks if task.start is not None]
    assert [task.id for task in in_order(tasks[::-1])][:1] == ["OUT"]
    assert finish_of(tasks[1]) == 50
