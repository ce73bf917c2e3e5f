"""A server under attack that runs in this process: the real routes, intake, trials, desk and store, without a socket."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path
from typing import Any

from dashboard.core.plan.model import Plan
from dashboard.log.store import EventStore
from dashboard.service.desk import Desk
from dashboard.service.http.api import make_api
from dashboard.service.session.live import LiveSession
from dashboard.service.trial.process import TrialProcess
from dashboard.service.trial.sieve import Sieve
from tests.attack.judging import Answer
from tests.attack.sortie import NOW_PET_MIN, log
from tests.service.conftest import StandingClock


class SharedTrial(TrialProcess):
    """A trial process for many desks, one after the other: closing a desk does not end it."""

    def close(self) -> None:
        """Leave it for the next desk."""

    def end(self) -> None:
        """End it."""
        super().close()


class Inside:
    """A server in this process, on a new store with the log of the sortie.

    Nothing ticks: a cycle runs when the state is asked for.

    Parameters
    ----------
    plan : Plan
    trial : SharedTrial
    store : Path
        The file of the store.
    loop : asyncio.AbstractEventLoop
        Runs the routes.
    """

    def __init__(self, plan: Plan, trial: SharedTrial, store: Path, loop: asyncio.AbstractEventLoop) -> None:
        self._plan, self._trial, self._loop = plan, trial, loop
        self._url = f"sqlite:///{store}"
        self._open()
        self.post(json.dumps(log()).encode())

    def _open(self) -> None:
        session = LiveSession(self._plan, EventStore(self._url, self._plan.sortie.id), StandingClock(NOW_PET_MIN))
        self.desk = Desk(session, sieve=Sieve(self._trial))
        self._api = make_api(self.desk)
        self.desk.cycle()

    def post(self, body: bytes) -> Answer:
        """Send events."""
        return self._call("POST", "/api/events", body)

    def state(self) -> Answer:
        """The newest state, where the board shows it too and every row takes part or is among the unread; else why not."""
        answer = self.get("/api/state")
        message = json.loads(self.desk.message())
        if message["trouble"] or message["board"] is None:
            return Answer(503, message["trouble"] or "no board")
        known, rows = self.desk.known_at(self.desk.session.clock.now()), self.rows()
        if len(known.events) + len(known.unread) != len(rows):
            return Answer(500, f"{len(rows)} rows: {len(known.events)} take part, {len(known.unread)} are unread")
        return answer

    def rows(self) -> list[dict[str, Any]]:
        """Every row of the log."""
        rows: list[dict[str, Any]] = self.get("/api/events").content
        return rows

    def get(self, path: str) -> Answer:
        """Read something."""
        return self._call("GET", path)

    def restart(self) -> None:
        """End the server, and start it on the same store."""
        self.close()
        self._open()

    def close(self) -> None:
        """Let go of the store."""
        self.desk.close()

    def _call(self, method: str, path: str, body: bytes = b"") -> Answer:
        sent: list[dict[str, Any]] = []

        async def receive() -> dict[str, Any]:
            return {"type": "http.request", "body": body, "more_body": False}

        async def send(part: Any) -> None:
            sent.append(part)

        scope = {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method, "scheme": "http", "path": path,
            "raw_path": path.encode(), "query_string": b"", "root_path": "", "headers": [(b"host", b"localhost")],
            "client": ("127.0.0.1", 1), "server": ("localhost", 80), "state": {},
        }  # fmt: skip
        self._loop.run_until_complete(self._api(scope, receive, send))
        content = b"".join(part.get("body", b"") for part in sent[1:])
        return Answer(sent[0]["status"], json.loads(content))

