"""A real server on a free port for each test, and a small sortie to follow."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from websockets.sync.client import ClientConnection, connect

from dashboard.core.base.times import instant_text
from dashboard.core.plan.model import Plan
from dashboard.log.store import EventStore
from dashboard.service.desk import Desk
from dashboard.service.http.api import make_api
from dashboard.service.session.clock import LIVE_TICK_S, Mode
from dashboard.service.session.live import LiveSession
from tests.live_server import LiveServer
from tests.local import LOCAL
from tests.scenario import PET_ZERO, plan_of, task
from tests.waiting import DEADLINE_S, until

PLAN = (
    task("T010", "EV1", 0, 30, title="Unstow pump")
    + task("T020", "EV1", 30, [20, 30, 50], title="Carry pump")
    + task("T030", "EV2", 0, 60, title="Prepare tray")
    + task("T040", "EV1 EV2", 60, 90, title="Swap tray", after=["T020", "T030"])
)


def at_pet(minutes: float) -> datetime:
    """The instant of a PET."""
    return PET_ZERO + timedelta(minutes=minutes)


NEVER_S = 3600.0  # longer than any test


class StandingClock:
    """A live clock that shows what it is told."""

    def __init__(self, pet_min: float = 0.0, tick_s: float = LIVE_TICK_S) -> None:
        self.instant = at_pet(pet_min)
        self._tick_s = tick_s

    def now(self) -> datetime:
        return self.instant

    def mode(self) -> Mode:
        return "live"

    def speed(self) -> float:
        return 1.0

    def tick_s(self) -> float:
        return self._tick_s


class Room:
    """What a client of a server can do, in short."""

    def __init__(self, url: str) -> None:
        self.http = httpx.Client(base_url=url, **LOCAL, timeout=DEADLINE_S)
        self._url = url

    def send(self, *events: dict[str, Any]) -> httpx.Response:
        return self.http.post("/api/events", json=list(events) if len(events) != 1 else events[0])

    def state(self) -> dict[str, Any]:
        answer = self.http.get("/api/state")
        assert answer.status_code == 200, answer.text
        return answer.json()

    def live(self, path: str = "/api/live", **options: Any) -> AbstractContextManager[ClientConnection]:
        return connect(self._url.replace("http", "ws", 1) + path, **options)


def event(kind: str, pet_min: float | None = None, **fields: Any) -> dict[str, Any]:
    """An event as a client sends it."""
    timed = {} if pet_min is None else {"at": instant_text(at_pet(pet_min))}
    return {"kind": kind, **timed, **fields}


def message(socket: ClientConnection, timeout_s: float = DEADLINE_S) -> dict[str, Any]:
    """The next message of a live connection."""
    return json.loads(socket.recv(timeout=timeout_s))


def message_where(socket: ClientConnection, fits: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
    """The first message from now on that fits."""
    return until(lambda: found if fits(found := message(socket)) else None, "a message that fits")


def first_version(desk: Desk) -> None:
    """Wait until the desk has its first version; the process of its trials is then up."""
    until(lambda: desk.version >= 1, "the first version")


@pytest.fixture
def plan() -> Plan:
    return plan_of(PLAN)


@pytest.fixture
def store_url(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path / 'sortie.log.sqlite'}"


@pytest.fixture
def clock() -> StandingClock:
    return StandingClock()


@pytest.fixture
def desk(plan: Plan, store_url: str, clock: StandingClock) -> Desk:
    return Desk(LiveSession(plan, EventStore(store_url, plan.sortie.id), clock))


@pytest.fixture
def serve_desk() -> Iterator[Callable[[Desk], LiveServer]]:
    servers: list[LiveServer] = []

    def start(desk: Desk) -> LiveServer:
        servers.append(LiveServer(make_api(desk)).start())
        first_version(desk)
        return servers[-1]

    yield start
    for server in servers:
        server.stop()


@pytest.fixture
def room(desk: Desk, serve_desk: Callable[[Desk], LiveServer]) -> Room:
    return Room(serve_desk(desk).url)


@pytest.fixture(scope="module")
def empty_room() -> Iterator[Room]:
    """A live server for the tests of a file that record nothing."""
    desk = Desk(LiveSession(plan_of(PLAN), EventStore("sqlite://", "t"), StandingClock()))
    with LiveServer(make_api(desk)) as server:
        first_version(desk)
        yield Room(server.url)
