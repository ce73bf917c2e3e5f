"""The floor of the load and browser benches: an empty application that sends each text it is given to every viewer at once.

    python -m tests.bench.load.echo

It listens on a free port of this computer, as the program does (same server, same options), and prints the address.
A POST has its body sent to all clients of the websocket, and is answered at once. A GET gives a page that is such a client and
does nothing but write each message into a text.
"""

from __future__ import annotations

import asyncio
from typing import Any

import uvicorn

from dashboard.service.serving import LARGEST_SOCKET_MESSAGE_BYTES, listening_socket

PAGE = b"""<!DOCTYPE html><meta charset="utf-8"><title>Echo</title><pre id="text"></pre>
<script>
const socket = new WebSocket(location.origin.replace("http", "ws"));
socket.onopen = () => document.body.dataset.open = "yes";
socket.onmessage = (message) => document.getElementById("text").textContent = message.data;
</script>
"""


class _Echo:
    def __init__(self) -> None:
        self._newest = ""
        self._changed: set[asyncio.Event] = set()

    async def __call__(self, scope: dict[str, Any], receive: Any, send: Any) -> None:
        if scope["type"] == "websocket":
            await self._viewer(receive, send)
        elif scope["type"] == "http":
            await (self._post(receive, send) if scope["method"] == "POST" else self._answer(send, PAGE))
        else:
            while (await receive())["type"] != "lifespan.shutdown":
                await send({"type": "lifespan.startup.complete"})
            await send({"type": "lifespan.shutdown.complete"})

    async def _viewer(self, receive: Any, send: Any) -> None:
        await receive()
        await send({"type": "websocket.accept"})
        changed = asyncio.Event()
        self._changed.add(changed)
        try:
            while True:
                await changed.wait()
                changed.clear()
                await send({"type": "websocket.send", "text": self._newest})
        finally:
            self._changed.discard(changed)

    async def _post(self, receive: Any, send: Any) -> None:
        body, more = b"", True
        while more:
            part = await receive()
            body, more = body + part.get("body", b""), part.get("more_body", False)
        self._newest = body.decode()
        await self._answer(send, b"{}")
        for changed in self._changed:
            changed.set()

    async def _answer(self, send: Any, body: bytes) -> None:
        headers = [(b"content-length", str(len(body)).encode())]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        await send({"type": "http.response.body", "body": body})


def main() -> None:
    """Serve until ended."""
    sock = listening_socket("127.0.0.1", 0)
    print(f"http://127.0.0.1:{sock.getsockname()[1]}", flush=True)
    config = uvicorn.Config(
        _Echo(), log_level="warning", lifespan="on", ws_max_size=LARGEST_SOCKET_MESSAGE_BYTES, ws_per_message_deflate=False
    )
    uvicorn.Server(config).run(sockets=[sock])


if __name__ == "__main__":
    main()
