"""A real server on a free port of this computer, for tests that speak HTTP to it."""

from __future__ import annotations

import socket
import threading
from types import TracebackType
from typing import Any

import uvicorn

from tests.waiting import DEADLINE_S, until


class LiveServer:
    """An ASGI application, served in a thread; `url` is its address.

    Parameters
    ----------
    asgi : an ASGI application
    port : int
        0 takes a free one.
    """

    def __init__(self, asgi: Any, port: int = 0) -> None:
        self._socket = socket.socket()
        self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        self._socket.bind(("127.0.0.1", port))
        self.port: int = self._socket.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"
        config = uvicorn.Config(asgi, log_level="warning", lifespan="on", timeout_graceful_shutdown=1)
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(
            target=self._server.run, kwargs={"sockets": [self._socket]}, daemon=True
        )

    def start(self) -> LiveServer:
        """Serve; returns once it answers."""
        self._thread.start()
        until(lambda: self._server.started or not self._thread.is_alive(), "the server starting")
        assert self._server.started, "the server did not start"
        return self

    def stop(self) -> None:
        """Stop, and see that it did."""
        self._server.should_exit = True
        self._thread.join(DEADLINE_S)
        assert not self._thread.is_alive(), "the server did not stop"

    def __enter__(self) -> LiveServer:
        return self.start()

    def __exit__(
        self, kind: type[BaseException] | None, wrong: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()
