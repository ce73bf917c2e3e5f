"""Health of the server, for monitoring from outside: `/health`, `/health/live` and `/metrics`.

A thread of its own asks the store, one question at a time. A store that hangs must not hold up the other routes; requests
for the health of the server are then answered with 503.
"""

from __future__ import annotations

import asyncio
from concurrent.futures import Future, ThreadPoolExecutor

from fastapi import FastAPI
from fastapi.responses import JSONResponse, Response

from dashboard.core.base.problems import Problem
from dashboard.service.access.keys import Keys
from dashboard.service.answers.health import Health, health_of
from dashboard.service.desk import Desk
from dashboard.service.http.problems import Refused
from dashboard.service.observe.metrics import CONTENT_TYPE

LONGEST_S = 5.0
FRESH = {"Cache-Control": "no-store"}


class Checks:
    """Checks the health of the server; requests that come during a check share its result."""

    def __init__(self, desk: Desk, keys: Keys, longest_s: float = LONGEST_S) -> None:
        self._desk, self._keys, self._longest_s = desk, keys, longest_s
        self._pool = ThreadPoolExecutor(1, "health")
        self._running: Future[Health] | None = None

    async def health(self) -> Health:
        """The health of the server.

        Raises
        ------
        Refused
            503 when the check is not done in time.
        """
        if self._running is None or self._running.done():
            self._running = self._pool.submit(health_of, self._desk, self._keys.trouble)
        try:
            return await asyncio.wait_for(asyncio.shield(asyncio.wrap_future(self._running)), self._longest_s)
        except TimeoutError:
            cure = "Look at the database, the disk and the log of the server."
            raise Refused(503, Problem("store", f"an answer within {self._longest_s:g} s", "none", cure)) from None


def add_health_routes(server: FastAPI, desk: Desk, keys: Keys) -> None:
    """Add the routes of the health of the server.

    Parameters
    ----------
    server
        Gets the routes.
    desk
        The desk that is checked.
    keys
        The keys of the server.
    """
    checks = Checks(desk, keys)

    @server.get("/health", include_in_schema=False)
    async def health() -> Response:
        """200: the server can serve; 503: it cannot, and `problems` says why. With warnings alone it can serve."""
        found = await checks.health()
        return JSONResponse(found.as_dict(), 200 if found.is_ready else 503, FRESH)

    @server.get("/health/live", include_in_schema=False)
    async def live() -> Response:
        """200 as long as the process answers; nothing else is checked."""
        return JSONResponse({"live": True}, headers=FRESH)

    @server.get("/metrics", include_in_schema=False)
    async def metrics() -> Response:
        """The metrics, as Prometheus reads them; also when the server is not ready."""
        found = await checks.health()
        return Response(desk.metrics.text(found.gauged), media_type=CONTENT_TYPE, headers=FRESH)
