"""Limits unfinished requests in time and, for each address, in number; limits the size of their headers.

An unfinished request occupies a connection. A client that opens many connections and sends slowly could keep everyone else
out. A request, its body included, must therefore arrive within `WHOLE_REQUEST_S`. Each address may have at most
`MOST_UNFINISHED` unfinished requests; one more ends the oldest of that address. Other clients behind the same proxy can
then still connect. Headers are kept in memory until they are complete, so an unfinished head may have `LARGEST_HEAD_BYTES`.
"""

from __future__ import annotations

import asyncio
from collections import OrderedDict
from typing import Any

from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

WHOLE_REQUEST_S = 30.0
MOST_UNFINISHED = 256
LARGEST_HEAD_BYTES = 65536
TOO_LATE, TOO_LARGE = "408 Request Timeout", "431 Request Header Fields Too Large"


def guarded_protocol(
    whole_request_s: float = WHOLE_REQUEST_S, most_unfinished: int = MOST_UNFINISHED
) -> type[asyncio.Protocol]:
    """The HTTP protocol of one server, with these limits.

    Parameters
    ----------
    whole_request_s
        Time within which a whole request must arrive, in seconds.
    most_unfinished
        Most unfinished requests of one address.

    Returns
    -------
    type
        A protocol class for uvicorn; its connections are counted together.
    """
    unfinished: dict[str, OrderedDict[Guarded, None]] = {}

    class Guarded(HttpToolsProtocol):
        """One connection."""

        _too_late: asyncio.TimerHandle | None = None
        _is_in_head = False
        _head_bytes = 0

        def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
            super().connection_made(transport)
            self._wait()

        def data_received(self, data: bytes) -> None:
            super().data_received(data)
            if self._is_in_head:
                self._head_bytes += len(data)
                if self._head_bytes > LARGEST_HEAD_BYTES:
                    self._give_up(TOO_LARGE)

        def on_message_begin(self) -> None:
            super().on_message_begin()
            self._is_in_head, self._head_bytes = True, 0
            self._wait()

        def on_headers_complete(self) -> None:
            self._is_in_head = False
            super().on_headers_complete()

        def on_message_complete(self) -> None:
            self._waited()
            super().on_message_complete()

        def handle_websocket_upgrade(self) -> None:
            self._waited()
            super().handle_websocket_upgrade()

        def connection_lost(self, exc: Exception | None) -> None:
            self._waited()
            super().connection_lost(exc)

        @property
        def _address(self) -> str:
            return self.client[0] if self.client else ""

        def _wait(self) -> None:
            """Start to wait for a request of this connection."""
            if self._too_late is not None:
                return
            self._too_late = self.loop.call_later(whole_request_s, self._give_up)
            mine = unfinished.setdefault(self._address, OrderedDict())
            mine[self] = None
            if len(mine) > most_unfinished:
                next(iter(mine))._give_up()

        def _waited(self) -> None:
            """Stop waiting: the request is complete, or will not come."""
            if self._too_late is None:
                return
            self._too_late.cancel()
            self._too_late = None
            mine: Any = unfinished.get(self._address, {})
            mine.pop(self, None)
            if not mine:
                unfinished.pop(self._address, None)

        def _give_up(self, why: str = TOO_LATE) -> None:
            self._waited()
            if not self.transport.is_closing():
                if self.cycle is None or self.cycle.response_complete:
                    self.transport.write(f"HTTP/1.1 {why}\r\nconnection: close\r\ncontent-length: 0\r\n\r\n".encode())
                self.transport.close()

    return Guarded
