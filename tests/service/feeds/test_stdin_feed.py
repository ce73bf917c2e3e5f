"""Following standard input."""

from __future__ import annotations

import os

from dashboard.service.feeds.stdin_feed import StdinFeed
from tests.service.feeds.intakes import Intake, note
from tests.waiting import until


def test_lines_are_taken_as_they_come_and_the_end_is_said():
    """The last line counts without its end."""
    reading, writing = os.pipe()
    feed, intake = StdinFeed(reading), Intake()
    feed.start(intake.take)
    os.write(writing, f"{note('one')}\nno json\n{note('two')}".encode())
    until(lambda: intake.texts == ["one"] and intake.unread_lines == ["no json"], "the whole lines")
    os.close(writing)
    until(lambda: feed.status.seen().standing == "ended", "the end")
    assert intake.texts == ["one", "two"]
    assert "the program that writes to it closed it" in feed.status.seen().said
    feed.close()
    os.close(reading)


def test_a_feed_that_waits_for_input_can_be_stopped():
    """A server ends while its standard input stays open."""
    reading, writing = os.pipe()
    feed = StdinFeed(reading)
    feed.start(Intake().take)
    feed.close()
    assert not feed._thread.is_alive()
    os.close(writing)
    os.close(reading)
