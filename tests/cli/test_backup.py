"""`tetherline backup`: a copy of a store, or of what a server holds."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.plan.model import Plan
from dashboard.log.store import EventStore
from dashboard.service.desk import Desk
from dashboard.service.session.live import LiveSession
from tests.command import assert_bad_input, tetherline
from tests.live_server import LiveServer
from tests.scenario import plan_of
from tests.service.conftest import PLAN, Room, StandingClock, event, serve_desk

__all__ = ["serve_desk"]
RECEIVED = parse_instant("2031-04-12T09:20:00Z")


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """A store with two entries."""
    store = EventStore(f"sqlite:///{tmp_path / 'sortie.db'}", "lantern-t")
    store.append([{"id": "e1", "at": "2031-04-12T09:15:00Z", "kind": "note", "text": "x"}, "some words"], RECEIVED)
    store.close()
    return tmp_path / "sortie.db"


def test_it_says_what_the_backup_holds(file: Path, tmp_path: Path) -> None:
    """How many entries of which sortie, how old the last is, and their SHA-256."""
    done = tetherline("backup", file, tmp_path / "b.jsonl")
    assert (done.returncode, done.stderr) == (0, "")
    digest = json.loads((tmp_path / "b.jsonl").read_text(encoding="utf-8").splitlines()[0])["sha256"]
    assert " ".join(done.stdout.split()).endswith(
        f"holds 2 entries of sortie lantern-t, the last received 2031-04-12T09:20:00Z; SHA-256 {digest}."
    )


def test_what_is_there_is_not_written_over(file: Path, tmp_path: Path) -> None:
    """Bad input like any other."""
    tetherline("backup", file, tmp_path / "b.jsonl")
    assert_bad_input(tetherline("backup", file, tmp_path / "b.jsonl"), "does not exist yet")


@pytest.mark.parametrize("address", ["http://127.0.0.1:9", "http://127.0.0.1:99999", "http://"])
def test_a_server_that_does_not_answer_is_told(address: str, tmp_path: Path) -> None:
    """And nothing is written."""
    assert_bad_input(tetherline("backup", address, tmp_path / "b.jsonl"), "no answer (")
    assert list(tmp_path.iterdir()) == []


def test_the_log_of_a_server_whose_file_was_deleted_is_saved(
    serve_desk: Callable[[Desk], LiveServer], tmp_path: Path
) -> None:
    """What it acknowledged and what it keeps in memory only; the boards say what happened, and the sender too."""
    plan: Plan = plan_of(PLAN)
    file = tmp_path / "sortie.db"
    desk = Desk(LiveSession(plan, EventStore(f"sqlite:///{file}", plan.sortie.id), StandingClock(10)))
    server = serve_desk(desk)
    room = Room(server.url)
    room.send(event("clock", 0, id="e1"))
    file.unlink()
    answer = room.send(event("note", 5, id="e2", text="x"))
    (outcome,) = answer.json()["outcomes"]
    assert (answer.status_code, outcome["status"], outcome["id"]) == (422, "in memory only", "e2")
    assert room.state()["basis"]["events"] == 2
    told = json.loads(desk.message())
    assert told["trouble"] is None
    assert "sortie.db was deleted or moved" in told["store_trouble"] and "1 entry" in told["store_trouble"]
    done = tetherline("backup", server.url, tmp_path / "saved.jsonl")
    assert (done.returncode, done.stderr) == (0, "")
    assert tetherline("restore", tmp_path / "saved.jsonl", tmp_path / "new.db").returncode == 0
    again = EventStore(f"sqlite:///{tmp_path / 'new.db'}", plan.sortie.id)
    assert [one.id for one in again.events()] == ["e1", "e2"]
    again.close()
