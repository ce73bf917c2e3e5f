"""`tetherline doctor`: what is wrong with a server, or with a plan and its store, and what to do."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.responses import JSONResponse

from dashboard.cli import doctor as doctor_module
from dashboard.core.base.times import instant_text, parse_instant
from dashboard.log.store import EventStore, Quarantined
from dashboard.service.trial.sieve import in_quarantine
from tests.command import LATE_PLAN, assert_bad_input, one_line, state_of, tetherline
from tests.live_server import LiveServer
from tests.serving import Start

RECEIVED = parse_instant("2031-04-12T09:20:00Z")
CLOCK = {"id": "e1", "at": "2031-04-12T09:10:00Z", "kind": "clock"}


def kept(folder: Path, *items: Any, sortie: str = "t") -> Path:
    """A store beside the plan that holds these."""
    path = folder / "plan.log.sqlite"
    store = EventStore(f"sqlite:///{path}", sortie)
    store.append(items, RECEIVED)
    store.close()
    return path


# --- a plan and its store -------------------------------------------------------------------------


def test_a_sound_plan_without_a_store_has_no_problem(sortie: Path):
    """Nothing is made by looking."""
    done = tetherline("doctor", sortie / "plan.toml")
    assert (done.returncode, done.stderr) == (0, "")
    assert "plan: sortie t" in done.stdout and "none yet; the server will make it as plan.log.sqlite" in done.stdout
    assert "MB free" in done.stdout and "tetherline 0" in one_line(done.stdout) and "Nothing is wrong." in done.stdout
    assert not (sortie / "plan.log.sqlite").exists()


def test_a_store_is_looked_at_and_left_as_it_is(sortie: Path):
    """Beside its plan, by its path, or by its address."""
    path = kept(sortie, CLOCK)
    before = path.read_bytes()
    for what in (sortie / "plan.toml", path, f"sqlite:///{path}"):
        done = tetherline("doctor", what)
        assert (done.returncode, done.stderr) == (0, "")
        assert "store: 1 event, 0 in quarantine, 0 unread in all, the last received 2031-04-12T09:20:00Z" in done.stdout
    assert path.read_bytes() == before


def test_each_problem_says_what_to_do_and_the_exit_code_is_2(sortie: Path):
    """A plan past its limit, the store of another sortie, an entry in quarantine."""
    (sortie / "plan.toml").write_text(LATE_PLAN, encoding="utf-8")
    kept(sortie, CLOCK, "no json", Quarantined("{}", in_quarantine("it broke")), sortie="another")
    done = tetherline("doctor", sortie / "plan.toml", "--json")
    assert (done.returncode, done.stderr) == (2, "")
    told = json.loads(done.stdout)
    found = {problem["found"]: problem for problem in told["problems"]}
    assert {"one of sortie 'another'", "1 entry"} <= set(found) and len(found) == 3
    assert all(problem["cure"] and problem["expected"] for problem in told["problems"])
    assert told["store"] == {
        "rows": 3, "quarantined": 1, "unread": 2, "sortie": "another", "last_received": "2031-04-12T09:20:00Z", "clock": None,
    }  # fmt: skip
    said = tetherline("doctor", sortie / "plan.toml")
    assert said.returncode == 2 and "3 problems: each says what to do." in said.stdout


def test_a_store_that_is_none_is_a_problem(sortie: Path):
    """A file of another kind, or no file."""
    (sortie / "plan.log.sqlite").write_bytes(b"not a database, but longer than a hundred bytes " * 10)
    for what in (sortie / "plan.toml", sortie / "nowhere.sqlite", "mysql://h/x"):
        done = tetherline("doctor", what)
        assert done.returncode == 2 and "event store: expected" in one_line(done.stdout), done.stdout + done.stderr


def test_a_disk_that_is_nearly_full_is_a_problem(sortie: Path, monkeypatch: pytest.MonkeyPatch):
    """Before nothing can be recorded any more."""
    monkeypatch.setattr(doctor_module, "free_mb", lambda store: 12.0)
    done = tetherline("doctor", sortie / "plan.toml")
    assert done.returncode == 2 and "12 MB. Make room" in one_line(done.stdout)


def test_the_clock_of_a_database_is_compared(sortie: Path, monkeypatch: pytest.MonkeyPatch):
    """With that of this computer."""
    kept(sortie, CLOCK)
    monkeypatch.setattr(doctor_module, "clock", lambda store: datetime.now(UTC) - timedelta(minutes=5))
    done = tetherline("doctor", sortie / "plan.toml")
    assert done.returncode == 2 and "found a clock that is 5 min behind" in one_line(done.stdout)


# --- a server -------------------------------------------------------------------------------------


def test_a_server_in_order_has_no_problem(start: Start, sortie: Path):
    """It says what the server holds, and how far its clock is off."""
    _, url = start("serve", sortie / "plan.toml", "--port", "0", "--no-browser")
    state_of(url)  # the first one is there
    done = tetherline("doctor", "--to", url)
    assert (done.returncode, done.stderr) == (0, ""), done.stdout
    for said in ("sortie t, live; ready", "store: no events, 0 in quarantine", "clock of the server: 0.", "no feeds"):
        assert said in one_line(done.stdout)
    told = json.loads(tetherline("doctor", "--to", url, "--json").stdout)
    assert told["problems"] == [] and told["ready"] and abs(told["server_clock"]["ahead_s"]) < 2


def test_what_a_server_says_of_itself_is_told(start: Start, sortie: Path):
    """A feed that is lost, a store that is gone."""
    _, url = start("serve", sortie / "plan.toml", "--port", "0", "--no-browser", "--follow", sortie / "crew.jsonl")
    state_of(url)
    (sortie / "plan.log.sqlite").unlink()
    done = tetherline("doctor", "--to", url, "--json")
    assert done.returncode == 2
    told = json.loads(done.stdout)
    assert not told["ready"] and told["problems"][0]["subject"] == "store"
    assert told["feeds"][0]["name"] == "crew.jsonl"


@pytest.fixture
def other() -> Iterator[tuple[str, dict[str, Any]]]:
    """The address of a server that says of itself what the test wants."""
    says: dict[str, Any] = {"status": 200, "body": {"problems": []}}
    server = FastAPI()

    @server.get("/health")
    async def health() -> JSONResponse:
        return JSONResponse(says["body"], says["status"])

    with LiveServer(server) as running:
        yield running.url, says


def test_a_clock_and_a_version_that_differ_are_problems(other: tuple[str, dict[str, Any]]):
    """Only who asks from outside can see them."""
    url, says = other
    late = instant_text(datetime.now(UTC) - timedelta(seconds=300))
    says["body"] = {"problems": [], "now": late, "versions": {"tetherline": "0.0.1"}}
    done = tetherline("doctor", "--to", url)
    assert done.returncode == 2
    assert "clock of the server: expected a clock within 2 s" in one_line(done.stdout)
    assert "5 min behind" in one_line(done.stdout)
    assert "version of the server: expected that of this command" in one_line(done.stdout)


@pytest.mark.parametrize(("status", "body"), [(404, {}), (200, ["x"]), (200, {"x": 1}), (503, "busy")])
def test_what_is_no_server_of_ours_is_refused(other: tuple[str, dict[str, Any]], status: int, body: Any):
    """With what to do."""
    url, says = other
    says["status"], says["body"] = status, body
    assert_bad_input(tetherline("doctor", "--to", url), "Is this the address of a Tetherline server?")


@pytest.mark.parametrize("address", ["http://", "ftp://h", "http://127.0.0.1:0", "http://127.0.0.1:1"])
def test_an_address_without_a_server_is_refused(address: str):
    """A wrong one, and one where nobody answers."""
    assert_bad_input(tetherline("doctor", "--to", address))


def test_a_plan_and_a_server_at_once_are_refused(sortie: Path):
    """One is looked at."""
    assert_bad_input(tetherline("doctor", sortie / "plan.toml", "--to", "http://127.0.0.1:1"), "both")
