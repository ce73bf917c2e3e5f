"""What every event has in common."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import parse_instant
from tests.core.events.examples import example
from tests.scenario import at


@pytest.mark.parametrize(("fields", "came_in"), [({}, "0:10"), ({"received": at("0:25")}, "0:25")])
def test_an_event_came_in_when_it_was_received(fields: dict[str, str], came_in: str) -> None:
    """Where the log does not say when that was, when it happened."""
    assert example("note", **fields).came_in == parse_instant(at(came_in))


@pytest.mark.parametrize(
    ("kind", "fields", "deferred", "given_up"),
    [
        ("defer", {"tasks": ["A", "B"]}, ("A", "B"), ("A", "B")),
        ("decision", {"defer": ["B"], "trim": {"A": 12}}, ("B",), ("B", "A")),
        ("trim", {"task": "A"}, (), ("A",)),
        ("break_off", {"task": "A"}, (), ("A",)),
        ("reinstate", {}, (), ()),
        ("start", {}, (), ()),
    ],
)
def test_what_a_kind_gives_up(kind: str, fields: dict[str, object], deferred: object, given_up: object) -> None:
    """Deferred tasks, and besides those the ones that are cut short."""
    event = example(kind, **fields)
    assert (event.defers(), event.gives_up()) == (deferred, given_up)


@pytest.mark.parametrize(
    ("kind", "fields", "task"),
    [
        ("start", {"task": "A"}, "A"), ("done", {"task": "A"}, "A"), ("hold", {"lane": None, "task": "A"}, "A"),
        ("hold", {"lane": "EV1"}, None), ("resume", {"task": "all"}, None), ("trim", {"task": "A"}, None),
    ],
)  # fmt: skip
def test_only_work_on_a_task_has_a_task_of_its_own(kind: str, fields: dict[str, object], task: str | None) -> None:
    """A change of the plan, and the hold of a lane, are no work on one task."""
    assert example(kind, **fields).own_task() == task
