"""Servers on one PostgreSQL: they show each other's events, and a database that goes and comes back."""

from __future__ import annotations

import logging
from collections.abc import Callable

import pytest

from dashboard.core.plan.model import Plan
from dashboard.log.store import EventStore
from dashboard.service.desk import Desk
from dashboard.service.session.live import LiveSession
from tests.live_server import LiveServer
from tests.postgres import PostgresServer
from tests.service.conftest import Room, StandingClock, event, message_where

NEVER_S = 3600.0  # a clock that does not tick: what is shown comes from being told


@pytest.fixture
def open_room(plan: Plan, serve_desk: Callable[[Desk], LiveServer]) -> Callable[[str, float], Room]:
    """Another server of the sortie on the store at an address."""

    def start(url: str, tick_s: float) -> Room:
        return Room(serve_desk(Desk(LiveSession(plan, EventStore(url, plan.sortie.id), StandingClock(40, tick_s)))).url)

    return start


def test_an_event_sent_to_one_server_is_on_the_boards_of_the_other(
    open_room: Callable[[str, float], Room], postgres: PostgresServer
):
    """Without a tick: the database tells of it. Ids and places count for both."""
    url = postgres.new_database()
    one, other = open_room(url, NEVER_S), open_room(url, NEVER_S)
    with one.live() as here, other.live() as there:
        one.send(event("clock", 0, id="e1"))
        message_where(there, lambda m: "The log is empty" not in str(m["board"]))
        sent = other.send(event("clock", 0, id="e1"), event("note", 5, id="e2", text="seen by both"))
        assert [outcome["status"] for outcome in sent.json()["outcomes"]] == ["already recorded", "recorded"]
        for socket in (here, there):
            message_where(socket, lambda m: "seen by both" in str(m["board"]))
    assert one.state() == other.state()


def test_while_the_database_is_gone_nothing_is_acknowledged_and_every_board_says_so(
    open_room: Callable[[str, float], Room], own_postgres: PostgresServer, caplog: pytest.LogCaptureFixture
):
    """The sender is told that nothing was recorded. Once it is back everything goes on by itself, and no trace was printed."""
    room = open_room(own_postgres.new_database(), 0.2)
    room.send(event("clock", 0, id="e1"))
    with room.live() as board, caplog.at_level(logging.INFO):
        own_postgres.stop()
        gone = message_where(board, lambda m: m["trouble"] is not None)
        assert "a database that cannot be reached" in gone["trouble"] and "The board shows the last good state" in gone["trouble"]
        for items in ([event("note", 5, id="lost", text="x")], [{"kind": "note", "text": "x"}]):
            answer = room.send(*items)
            assert answer.status_code == 503
            (problem,) = answer.json()["problems"]
            assert problem["cure"].startswith("Nothing of this was recorded.")
            assert "cannot be reached" in problem["found"]
        own_postgres.start()
        message_where(board, lambda m: m["trouble"] is None)
    assert room.send(event("note", 5, id="e2", text="x")).json()["outcomes"][0]["status"] == "recorded"
    assert [row["id"] for row in room.http.get("/api/events").json()] == ["e1", "e2"]
    assert not [record for record in caplog.records if record.exc_info]
    assert {record.levelname for record in caplog.records if "There is no state of now" in record.message} == {"ERROR"}
