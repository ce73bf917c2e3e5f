"""Feeds of a server: from a file to the state, the log, and the board."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from dashboard.core.plan.model import Plan
from dashboard.log.store import EventStore
from dashboard.service.access.roles import Role
from dashboard.service.desk import Desk
from dashboard.service.feeds import feed as feed_module
from dashboard.service.feeds.feeds import Feeds
from dashboard.service.feeds.file_feed import FileFeed
from dashboard.service.session.live import LiveSession
from dashboard.service.trial.process import TrialProcess
from dashboard.service.trial.sieve import Sieve
from tests.service.conftest import Room, StandingClock, event, message, message_where
from tests.service.feeds.intakes import note
from tests.service.trial.cycles import brittle_view
from tests.waiting import until

CLOCK = '{"kind": "clock", "at": "2031-04-12T09:10:00Z"}\n'
START = '{"kind": "start", "task": "T010", "at": "0:05"}\n'
DEFER = '{"kind": "defer", "tasks": ["T020"]}\n'

Follow = Callable[..., Room]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "crew.jsonl"


@pytest.fixture
def follow(path: Path, plan: Plan, store_url: str, serve_desk, monkeypatch: pytest.MonkeyPatch) -> Iterator[Follow]:
    """A server that follows the file, at PET 0:30, and whose cycle a note can break."""
    monkeypatch.setattr(feed_module, "LONGEST_PAUSE_S", 0.1)

    def start(role: Role = "lead") -> Room:
        session = LiveSession(plan, EventStore(store_url, plan.sortie.id), StandingClock(30))
        feeds = Feeds([FileFeed(path, path.name, at_rest_s=0.0)])
        sieve = Sieve(TrialProcess(plan, brittle_view))
        return Room(serve_desk(Desk(session, compute=brittle_view, sieve=sieve, feeds=feeds, feeds_role=role)).url)

    yield start


def rows(room: Room) -> list[dict]:
    return room.http.get("/api/events").json()


def test_entries_of_a_feed_count_as_any_event(path: Path, follow: Follow):
    """By the name of the feed, at the PET that they give; what cannot be read is unread, with its place."""
    path.write_text(CLOCK + START[:-2] + ', "by": "EV1"}\n' + "no json\n" + note("break"), encoding="utf-8")
    room = follow()
    until(lambda: len(room.state()["unread"]) == 2 and room.state()["tasks"]["T010"]["state"] == "in work", "all lines")
    state = room.state()
    assert state["tasks"]["T010"]["start_pet_min"] == 5
    came = {row["kind"]: row for row in rows(room) if "kind" in row}
    assert came["clock"]["by"] == "crew.jsonl"
    assert (came["start"]["by"], came["start"]["entered_by"]) == ("EV1", "crew.jsonl")
    plain, broken = state["unread"]
    assert plain["line"] == "no json" and plain["why"].endswith("(line 3 of crew.jsonl)")
    assert "made without it" in broken["why"] and '"by": "crew.jsonl"' in broken["line"]


def test_a_restart_records_nothing_twice(path: Path, follow: Follow):
    """Neither events nor lines that cannot be read."""
    path.write_text(note("a") + "\n" + note("a") + "\nno json\n", encoding="utf-8")
    room = follow()
    until(lambda: len(rows(room)) == 3, "three rows")
    again = follow()
    with path.open("a", encoding="utf-8") as file:
        file.write(note("b") + "\n")
    until(lambda: len(rows(again)) > 3, "the new row")
    assert [row.get("text") for row in rows(again)] == ["a", "a", None, "b"]


def test_a_feed_decides_only_where_everyone_may(path: Path, follow: Follow):
    """Where there are keys its decisions are kept unread, with the reason."""
    path.write_text(note("a") + "\n" + DEFER, encoding="utf-8")
    room = follow("log")
    until(lambda: len(rows(room)) == 2 and room.state()["unread"], "both lines")
    state = room.state()
    assert state["tasks"]["T020"]["state"] == "not started"
    assert [one["line"] for one in state["unread"]] == [DEFER.strip()], state["unread"]
    assert "needs the lead key" in state["unread"][0]["why"]


def test_a_feed_that_is_lost_is_named_in_every_message(path: Path, follow: Follow):
    """Until it is there; once the sortie has ended nobody needs it."""
    room = follow()
    with room.live() as client:
        (said,) = message_where(client, lambda told: told["feeds"])["feeds"]
        assert said.startswith("Feed crew.jsonl is lost")
        path.write_text(START, encoding="utf-8")
        message_where(client, lambda told: not told["feeds"])
        path.unlink()
        message_where(client, lambda told: told["feeds"])
        room.send(event("clock", 0), event("end", 30))
        message_where(client, lambda told: told["ended"] and not told["feeds"])


def test_a_server_without_feeds_says_nothing_of_them(room: Room):
    """The list is empty."""
    with room.live() as client:
        assert message(client)["feeds"] == []
