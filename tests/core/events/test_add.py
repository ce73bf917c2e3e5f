"""An unplanned task."""

from __future__ import annotations

import pytest

from dashboard.core.events.kinds import UnreadableEvent, parse_event
from dashboard.core.plan.model import MOST_NAMES
from tests.core.events.examples import at, example
from tests.core.sorties import PLAN
from tests.scenario import follow_at, log_of


def test_an_added_task_goes_where_it_is_put():
    """Before a named task, or ahead of what remains."""
    add = '{"id":"X","lanes":["EV1"],"duration":5}'
    assert follow_at(PLAN, f"0:00 clock\n0:01 add {add} before=C", "0:02").lanes["EV1"].order[1:4] == ["B", "X", "C"]
    assert follow_at(PLAN, f"0:00 clock\n0:01 add {add}", "0:02").lanes["EV1"].order[:2] == ["X", "A"]


def test_a_task_may_be_named_before_the_event_that_adds_it_comes_in():
    """Order of arrival does not decide whether a name is known."""
    log = '0:00 clock\n0:06 start X\n0:05 add {"id":"X","lanes":["EV1"],"duration":5}'
    state = follow_at(PLAN, log, "0:10")
    assert state.unread == []
    assert state.tasks["X"].state == "in work"


@pytest.mark.parametrize(
    "fields",
    [
        {"duration": [1, 2, 1e308]}, {"duration": 10**400}, {"duration": "9" * 400}, {"closeout": 1e308},
        {"lanes": [f"L{n}" for n in range(1000)]}, {"after": ["A"] * 1000}, {"follows": ["A"] * 1000}, {"needs": ["sun"] * 1000},
    ],
    ids=str,
)  # fmt: skip
def test_a_task_beyond_the_limits_of_its_fields_cannot_be_read(fields):
    """The limits are those of a plan file."""
    with pytest.raises(UnreadableEvent, match="expected"):
        example("add", task={"id": "X", "lanes": ["EV1"], "duration": 9, **fields})


@pytest.mark.parametrize("links", [{"after": ["X"]}, {"follows": ["X"]}, {"after": ["X", "A"]}])
def test_a_task_that_waits_for_itself_is_added_without_that_link(links):
    """It has a place in the projection, and the link is listed as left out."""
    events = [*log_of("0:00 clock"), example("add", task={"id": "X", "lanes": ["EV1"], "duration": 9, **links})]
    state = follow_at(PLAN, events, "0:20")
    assert state.tasks["X"].projected_finish_pet_min is not None
    assert [(d.expected, d.found) for d in state.discrepancies] == [
        ("tasks before X that do not wait for X themselves", "X; left out")
    ]


def test_more_added_tasks_than_a_room_can_follow_are_listed_and_not_added():
    """They would make every cycle slow. What names them later is listed too, and stops nothing."""
    adds = [
        example("add", id=f"e{n}", seq=n, task={"id": f"X{n}", "lanes": ["EV1"], "duration": 9}, before=None)
        for n in range(2, MOST_NAMES + 4)
    ]
    over = f"X{MOST_NAMES + 3}"
    later = [
        {"kind": "start", "task": over, "lanes": ["EV1"]}, {"kind": "done", "task": over}, {"kind": "hold", "task": over},
        {"kind": "trim", "task": over, "duration": 5}, {"kind": "defer", "tasks": [over]},
        {"kind": "estimate", "task": over, "remaining": 5}, {"kind": "break_off", "task": over},
        {"kind": "move", "task": over, "before": "A"}, {"kind": "move", "task": "B", "before": over},
    ]  # fmt: skip
    named = [parse_event({"id": f"l{n}", "at": at("0:11"), **fields}) for n, fields in enumerate(later)]
    state = follow_at(PLAN, [*log_of("0:00 clock"), *adds, *named], "0:20")
    assert sum(name.startswith("X") for name in state.tasks) == MOST_NAMES
    about = [d for d in state.discrepancies if "added tasks" in d.expected]
    assert [(d.event, d.expected) for d in about] == [
        (f"e{n}", f"at most {MOST_NAMES} added tasks") for n in (MOST_NAMES + 2, MOST_NAMES + 3)
    ]
    assert {d.event for d in state.discrepancies} >= {e.id for e in named}


def test_added_tasks_in_a_ring_are_added_without_the_link_that_closes_it():
    """Through as many of them as it may run; the links that close no ring stay."""
    ring = {"X": ["Y"], "Y": ["Z"], "Z": ["X", "A"]}
    events = log_of("0:00 clock")
    for number, (name, after) in enumerate(ring.items(), start=2):
        table = {"id": name, "lanes": ["EV1"], "duration": 9, "after": after}
        events.append(example("add", id=f"e{number}", seq=number, task=table, before=None))
    state = follow_at(PLAN, events, "0:20")
    starts = [state.tasks[name].projected_start_pet_min for name in ("A", "Z", "Y", "X")]
    assert None not in starts and starts == sorted(starts)
    assert [(d.event, d.found) for d in state.discrepancies] == [("e4", "X; left out")]
