"""`/health`, `/health/live` and `/metrics`."""

from __future__ import annotations

import asyncio
import json
import threading
import time
from datetime import datetime
from pathlib import Path
from typing import Any

from prometheus_client.parser import text_string_to_metric_families

from dashboard.service.access.followed_key_file import FollowedKeyFile
from dashboard.service.access.key_file import add_key
from dashboard.service.access.keys import Keys
from dashboard.service.desk import Desk
from dashboard.service.http import health_routes
from dashboard.service.session.session import KnownEvents
from tests.problems import assert_problem, the_only
from tests.service.conftest import Room, event, message
from tests.waiting import until


def samples(room: Room) -> dict[str, float]:
    answer = room.http.get("/metrics")
    assert answer.status_code == 200 and answer.headers["content-type"].startswith("text/plain")
    families = text_string_to_metric_families(answer.text)
    return {" ".join([one.name, *one.labels.values()]): one.value for family in families for one in family.samples}


def test_a_server_that_can_serve_answers_200(room: Room):
    """With everything that somebody who watches it wants to know."""
    answer = room.http.get("/health")
    assert answer.status_code == 200 and answer.headers["cache-control"] == "no-store"
    told = answer.json()
    assert told["live"] and told["ready"] and told["problems"] == []
    assert set(told) == {
        "live", "ready", "problems", "now", "sortie", "mode", "store", "cycle", "quarantined", "unread", "feeds", "viewers",
        "versions",
    }  # fmt: skip


def test_a_server_that_cannot_serve_answers_503_with_the_reason(room: Room, tmp_path: Path):
    """Its process lives all the same, and its metrics are there."""
    (tmp_path / "sortie.log.sqlite").unlink()
    answer = room.http.get("/health")
    assert answer.status_code == 503 and not answer.json()["ready"]
    (problem,) = answer.json()["problems"]
    assert problem["subject"] == "store" and problem["severity"] == "error" and problem["cure"]
    assert room.http.get("/health/live").status_code == 200
    assert samples(room)["tetherline_ready"] == 0


def test_a_key_file_that_cannot_be_read_is_a_warning(desk: Desk, tmp_path: Path):
    """The keys read before count, so the server can serve."""
    path = tmp_path / "keys.toml"
    add_key(path, "Ada Lee", "log")
    keys = Keys(people=FollowedKeyFile(path))
    path.write_text("[[key", encoding="utf-8")
    assert keys.people is not None
    keys.people.look()
    desk.cycle()
    found = asyncio.run(health_routes.Checks(desk, keys).health())
    assert found.is_ready
    assert_problem(the_only(found.problems), subject="keys", expected="can be read", found="keys.toml", cure="what it says",
                   severity="caution")


def test_a_store_that_hangs_is_said_and_keeps_nobody_else_waiting(room: Room, desk: Desk, monkeypatch):
    """One question to it at a time, however often somebody asks."""
    go_on, asked = threading.Event(), []

    def hangs(now: datetime) -> KnownEvents:
        asked.append(now)
        go_on.wait(60)
        return KnownEvents([], [])

    checks = health_routes.Checks(desk, Keys(), 0.2)
    monkeypatch.setattr(desk, "known_at", hangs)
    async def ask_twice() -> list[Any]:
        return await asyncio.gather(checks.health(), checks.health(), return_exceptions=True)

    for wrong in asyncio.run(ask_twice()):
        assert wrong.status == 503 and wrong.problems[0].found == "none"
    assert len(asked) == 1
    assert room.http.get("/health/live").status_code == 200
    go_on.set()
    monkeypatch.undo()
    until(lambda: asyncio.run(checks.health()).is_ready, "the store answering again")


def test_metrics_follow_what_happens(room: Room):
    """Entries, cycles, viewers."""
    before = samples(room)
    with room.live() as client:
        message(client)
        room.send(event("clock", 0), {"kind": "dance"})
        room.state()
        after = samples(room)
        assert after["tetherline_viewers"] == 1
    assert after["tetherline_entries_total recorded"] == before["tetherline_entries_total recorded"] + 1
    assert after["tetherline_entries_total unread"] == before["tetherline_entries_total unread"] + 1
    assert after["tetherline_cycle_seconds_count"] > before["tetherline_cycle_seconds_count"]
    assert after["tetherline_events"] == 1 and after["tetherline_unread"] == 1
    until(lambda: samples(room)["tetherline_viewers"] == 0, "the viewer being gone")


def test_a_board_may_say_what_its_clock_shows(room: Room):
    """It answers a message with the instant of its own clock."""
    with room.live() as client:
        client.send("of no interest")
        sent = message(client)["sent"]
        client.send(json.dumps({"clock_ms": (time.time() + 100) * 1000, "sent": sent}))
        until(lambda: room.http.get("/health").json()["viewers"]["clocks"], "the clock being heard")
        told = room.http.get("/health").json()
    assert 98 < told["viewers"]["clocks"][0]["ahead_s"] < 102
    assert [one["subject"] for one in told["problems"]] == ["clocks of browsers"]
