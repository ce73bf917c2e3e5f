"""A plan made of a recorded run: the plan that it followed, with what the room made of it."""

from __future__ import annotations

from dashboard.core.events.kinds import parse_event
from dashboard.core.plan.check import check_plan
from replay.plan_of_run import plan_of_run
from replay.recording import recorded
from tests.scenario import plan_of, task

PLAN = plan_of(
    task("T010", "EV1", 0, 30, title="Unstow pump") + task("T020", "EV2", 0, 30)
    + '[[alternative]]\nid = "tray"\ndefault = "inside"\n[alternative.options]\ninside = ["T010"]\noutside = ["T020"]\n'
)
ADDED = {"id": "T900", "title": "Free the strap", "lanes": ["EV1"], "duration": 10}


def made(*events: dict):
    """The plan of a run with these events after PET zero."""
    clock = {"id": "e0", "at": "2031-04-12T09:10:00Z", "kind": "clock"}
    return plan_of_run(recorded(PLAN, [parse_event({"id": f"e{n}", **one}) for n, one in enumerate((clock, *events))]))


def test_a_run_without_changes_gives_its_plan():
    """Nothing is said of it."""
    assert made() == (PLAN, ())


def test_a_task_that_was_added_is_briefed_with_its_start():
    """To the minute; one that was never begun, or was done in the middle of briefed work, becomes a get-ahead."""
    add = {"at": "2031-04-12T09:20:00Z", "kind": "add", "task": ADDED}
    start = {"kind": "start", "task": "T900"}
    begun = made(add, {"at": "2031-04-12T09:40:20Z", **start})
    assert begun.plan.tasks[-1].start == 30 and begun.changes == ("T900 Free the strap was added in the run.",)
    for one in (made(add), made(add, {"at": "2031-04-12T09:39:00Z", **start})):
        assert (one.plan.tasks[-1].get_ahead, one.plan.tasks[-1].start) == (True, None) and "a get-ahead here" in one.changes[0]
        assert check_plan(one.plan) == check_plan(PLAN)


def test_the_option_that_was_taken_becomes_the_default():
    """With a sentence that says so."""
    taken = made({"at": "2031-04-12T09:20:00Z", "kind": "choose", "alternative": "tray", "option": "outside"})
    assert taken.plan.alternatives[0].default == "outside" and taken.changes == ("'outside' was taken for tray.",)
