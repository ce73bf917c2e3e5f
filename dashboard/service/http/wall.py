"""The address of the wall view.

The wall is the page of the board. The browser shows it another way (``assets/board/view.js``).
"""

from __future__ import annotations

from typing import Any
from urllib.parse import parse_qs

from dashboard.service.http.headers import Receive, Scope, Send

WALL = "/wall"


class WallAddress:
    """An ASGI application that hands a request for the wall view on as one for the board.

    It stands before Dash, which makes its page for its own address only. A request with a key stays as it is: the gate takes
    the key out and leads back to the same address.

    Parameters
    ----------
    app : an ASGI application
        Gets every request.
    """

    def __init__(self, app: Any) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand the request on."""
        is_wall = scope["type"] == "http" and scope["path"].rstrip("/") == WALL
        if is_wall and "key" not in parse_qs(scope["query_string"].decode("latin-1"), keep_blank_values=True):
            scope = {**scope, "path": "/", "raw_path": b"/"}
        await self._app(scope, receive, send)
