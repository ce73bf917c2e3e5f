"""What every kind of feed has in common: handing over, and trying again."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from dashboard.service.feeds import feed as feed_module
from dashboard.service.feeds.entries import Reader
from dashboard.service.feeds.feed import Backoff, Feed
from dashboard.service.feeds.lines import Lines
from dashboard.service.feeds.status import Status
from tests.service.feeds.intakes import Intake, note
from tests.waiting import until


class Brings(Feed):
    """Brings these lines once, after it was lost so many times."""

    def __init__(self, *texts: str, lost: int = 0) -> None:
        super().__init__(Status("test feed", "Look at it."))
        self._texts, self._lost = texts, lost

    def follow(self) -> None:
        self._lost -= 1
        if self._lost >= 0:
            raise ConnectionRefusedError(111, "Connection refused")
        self.connected()
        data = "".join(f"{text}\n" for text in self._texts).encode()
        self.hand_over(Reader(self.name, self.name).entries(Lines().add(data)))


@pytest.fixture(autouse=True)
def short_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(feed_module, "FIRST_PAUSE_S", 0.01)
    monkeypatch.setattr(feed_module, "LONGEST_PAUSE_S", 0.05)


def test_distances_between_tries_double_up_to_the_longest(monkeypatch: pytest.MonkeyPatch):
    """And begin anew once it worked."""
    monkeypatch.undo()
    backoff = Backoff()
    assert [backoff.pause_s() for _ in range(8)] == [0.5, 1, 2, 4, 8, 16, 30, 30]
    backoff.reset()
    assert backoff.pause_s() == 0.5


def test_what_cannot_be_kept_waits_and_is_handed_over_again():
    """Nothing is lost while the store is gone, and the feed says what is wrong."""
    intake = Intake()
    intake.is_full = True
    feed = Brings(note("one"), note("two"))
    feed.start(intake.take)
    until(lambda: feed.status.seen().standing == "waits", "the feed waiting")
    assert "no room left on the disk" in feed.status.seen().said
    intake.is_full = False
    until(lambda: intake.texts == ["one", "two"], "both notes")
    until(lambda: feed.status.seen().standing == "fresh", "the feed in order")
    feed.close()


def test_what_is_refused_is_kept_word_for_word_with_the_reason():
    """Nobody reads the answer that a feed gets."""
    intake = Intake()
    intake.refuses = lambda item, together: item["kind"] == "defer"
    line = '{"kind": "defer", "tasks": ["T1"]}'
    feed = Brings(note("one"), line)
    feed.start(intake.take)
    until(lambda: intake.unread, "the line that was refused")
    (kept,) = intake.unread.values()
    assert kept.item == line and kept.why == "It needs the lead key. (line 2 of test feed)"
    assert intake.texts == ["one"]
    feed.close()


def test_what_is_refused_for_its_company_is_handed_over_alone():
    """Entries that could not be tried together are tried one by one."""
    intake = Intake()
    intake.refuses = lambda item, together: together > 1 and item["text"] == "two"
    feed = Brings(note("one"), note("two"))
    feed.start(intake.take)
    until(lambda: "two" in intake.texts, "the second note")
    assert not intake.unread
    feed.close()


def test_an_intake_that_breaks_on_an_entry_does_not_stop_the_feed():
    """The entry is kept as it came, those around it are taken."""
    intake = Intake()

    def brittle(items: Sequence[Any], name: str) -> list[dict[str, Any]]:
        if any(isinstance(item, dict) and item["text"] == "break" for item in items):
            raise ZeroDivisionError("division by zero")
        return intake.take(items, name)

    feed = Brings(note("one"), note("break"), note("two"))
    feed.start(brittle)
    until(lambda: intake.texts == ["one", "two"], "the notes around it")
    assert intake.unread_lines == [note("break")]
    feed.close()


def test_a_source_that_is_lost_is_tried_again_and_said_in_words():
    """Until it is there."""
    feed, intake = Brings(note("one"), lost=1_000_000), Intake()
    feed.start(intake.take)
    until(lambda: feed.status.seen().standing == "lost", "the loss")
    assert "Connection refused. It is tried again every" in feed.status.seen().said
    feed._lost = 0
    until(lambda: intake.texts == ["one"] and feed.status.seen().standing == "fresh", "the note")
    feed.close()
