"""How a feed stands, in words."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from dashboard.screens import ages
from dashboard.service.feeds.status import Status

BEGAN = datetime(2031, 4, 12, 9, 0, tzinfo=UTC)


class Clock:
    """Shows what it is told."""

    def __init__(self) -> None:
        self.now = BEGAN

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def status(clock: Clock) -> Status:
    return Status("suits", "Check the telemetry gateway.", clock)


def test_a_feed_grows_late_and_then_stale(status: Status, clock: Clock):
    """At the ages that stand in one place; news makes it fresh again."""
    status.heard()
    standings = []
    for minutes in (0.0, ages.FEED.late_min, ages.FEED.stale_min):
        clock.now = BEGAN + timedelta(minutes=minutes)
        standings.append(status.seen().standing)
    assert standings == ["fresh", "late", "stale"]
    assert status.seen().said == "Feed suits is stale, last news: 20 min ago. Check the telemetry gateway."
    assert not status.seen().is_in_order
    status.heard()
    assert status.seen().standing == "fresh" and status.seen().is_in_order


def test_a_feed_that_never_brought_anything_is_stale_too(status: Status, clock: Clock):
    """Its age counts from when it was first followed."""
    clock.now = BEGAN + timedelta(minutes=25)
    seen = status.seen()
    assert (seen.standing, seen.age_s, seen.heard_at) == ("stale", 1500, None)
    assert "last news: none yet. It has been followed for 25 min." in seen.said


def test_trouble_says_since_when_and_why(status: Status, clock: Clock):
    """The first word of it counts as news, what changes its words does not."""
    assert status.in_trouble("lost", "connection refused.")
    clock.now += timedelta(minutes=2)
    assert not status.in_trouble("lost", "no route.")
    assert status.seen().said == "Feed suits is lost for 2 min: no route. Its last news: none yet."
    assert status.in_order() and not status.in_order()
    assert status.seen().standing == "fresh"


def test_what_health_says_carries_the_ages(status: Status):
    """With the limits that they are judged by."""
    status.counted(3, 1)
    told = status.seen().as_dict()
    assert (told["entries"], told["unread"], told["heard_at"]) == (3, 1, None)
    assert (told["late_after_s"], told["stale_after_s"]) == (ages.FEED.late_min * 60, ages.FEED.stale_min * 60)
