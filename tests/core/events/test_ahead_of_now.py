"""Events that are here and dated after now: said, and counted from their time on."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.events.ahead_of_now import dated_ahead
from tests.scenario import at, follow_at, log_of, plan_of, task

NOW = parse_instant(at("1:00"))
PLAN = plan_of(task("A", "EV1", 0, 30))


@pytest.mark.parametrize(
    ("pet", "received", "ahead"),
    [("1:02", "1:00", True), ("1:01", "1:00", False), ("0:59", "1:00", False), ("1:30", "1:10", False), ("1:30", None, False)],
)
def test_only_what_was_received_by_now_is_judged(pet: str, received: str | None, ahead: bool):
    """By more than a minute; of a log that is followed at an earlier instant the rest is not there yet."""
    (event,) = log_of(f"{pet} note x")
    event = event.model_copy(update={"received": None if received is None else parse_instant(at(received))})
    assert bool(dated_ahead([event], NOW)) is ahead


def received_early(log: str) -> list:
    return [event.model_copy(update={"received": parse_instant(at("0:05"))}) for event in log_of(log)]


def test_each_is_a_discrepancy_until_its_time_comes():
    """An answer and a change of the plan too; it is never silently out of the state."""
    log = received_early("0:00 clock\n0:30 start A\n0:40 withdraw e1\n0:50 defer A")
    found = follow_at(PLAN, log, "0:06").discrepancies
    assert [(one.event, one.expected) for one in found] == [(name, "a time up to now") for name in ("e2", "e4", "e3")]
    assert found[0].found == "2031-04-12T09:40:00Z, 24 min after now; it counts from then on"
    assert [one.event for one in follow_at(PLAN, log, "0:35").discrepancies] == ["e4", "e3"]


def test_what_is_far_off_has_one_discrepancy():
    """That of its far-off time."""
    found = follow_at(PLAN, received_early("0:00 clock\n0:01 start A\n99:00 done A"), "0:06").discrepancies
    assert [one.event for one in found] == ["e3"] and "within 12 h" in found[0].expected
