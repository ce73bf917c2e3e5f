"""The live push: a websocket that sends the newest version of the desk whenever there is one."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from datetime import UTC, datetime

from fastapi import FastAPI, WebSocket, WebSocketDisconnect

from dashboard.service.desk import Desk, Snapshot
from dashboard.service.http.problems import Refused
from dashboard.service.http.requests import origin_fits
from dashboard.service.http.visitors import Visitors
from dashboard.service.observe.viewers import Viewer

HEARTBEAT_S = 2.0
LONGEST_SEND_S = 30.0


def add_live_push(server: FastAPI, desk: Desk, visitors: Visitors) -> None:
    """Add the websocket ``/api/live``. With ``?changes=1`` it sends the whole board once, and then what changes of it.

    Parameters
    ----------
    server
        Gets the route.
    desk
        Its versions are sent.
    visitors
        Finds out who listens, and records refusals.
    """

    @server.websocket("/api/live")
    async def live(socket: WebSocket) -> None:
        if not origin_fits(socket.headers.get("origin"), socket.headers.get("host")):
            visitors.refused(socket, None, socket.url.path, f"a page of {socket.headers.get('origin')}")
            await socket.close(1008)
            return
        try:
            shown = await visitors.shown(socket)
        except Refused:
            await socket.close(1008)
            return
        await socket.accept()
        changed, loop = asyncio.Event(), asyncio.get_running_loop()

        def wake() -> None:
            if not loop.is_closed():
                loop.call_soon_threadsafe(changed.set)

        unsubscribe = desk.subscribe(wake)
        with desk.viewers.joined() as viewer:
            def message(before: Snapshot | None) -> tuple[str, Snapshot]:
                return desk.message_since(before, visitors.visitor_of(shown), visitors.keys.trouble)

            wants_changes = socket.query_params.get("changes") == "1"
            pump = asyncio.create_task(_pump(socket, message, changed, wants_changes))
            ears = asyncio.create_task(_listen(socket, viewer))
            try:
                await asyncio.wait({pump, ears}, return_when=asyncio.FIRST_COMPLETED)
            finally:
                unsubscribe()
                for task in (pump, ears):
                    task.cancel()
                await asyncio.gather(pump, ears, return_exceptions=True)


async def _pump(
    socket: WebSocket, message: Callable[[Snapshot | None], tuple[str, Snapshot]], changed: asyncio.Event, only_changes: bool
) -> None:
    """Send the newest version whenever there is one, and at least every `HEARTBEAT_S`; `only_changes`: since the one sent before.

    A slow client skips versions; nothing queues up for it.
    """
    before: Snapshot | None = None
    while True:
        changed.clear()
        text, sent = message(before)
        before = sent if only_changes else None
        await asyncio.wait_for(socket.send_text(text), LONGEST_SEND_S)
        try:
            await asyncio.wait_for(changed.wait(), HEARTBEAT_S)
        except TimeoutError:
            continue


async def _listen(socket: WebSocket, viewer: Viewer) -> None:
    """Wait until the client leaves; meanwhile take what it says about its clock."""
    try:
        while True:
            viewer.take_clock(await socket.receive_text(), datetime.now(UTC))
    except (WebSocketDisconnect, KeyError):  # gone, or it sent something that is not text
        return
