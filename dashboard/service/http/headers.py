"""Headers of every answer that tell a browser what it may do with it.

Rules of this file
------------------
1. Everything that a page loads comes from this server: `default-src 'self'`. That holds for the websocket and for module
   scripts as well.
2. Scripts come from files of this server. Dash writes one script into the page (it starts the renderer), and one for each
   clientside callback: these are allowed by their hash, and no other script in a page is. So is the one handler in the page
   (it loads a page anew whose modules are gone): `'unsafe-hashes'` lets handlers be allowed by hash, none is otherwise.
   No `eval`.
3. Styles may stand in a page (`'unsafe-inline'`, for styles only): the colour roles, the debrief and the lane sheet
   position their marks with `style` attributes, and Plotly adds style rules by script. A style runs nothing.
4. Pictures may be `data:` and `blob:`, with which Plotly saves and draws its own.
5. No page of another site may show one of this server in a frame, no form is sent elsewhere, and no page moves its base.
6. A browser takes an answer for what its type says (`nosniff`), and tells other sites nothing of where it was.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Awaitable, Callable, MutableMapping, Sequence
from typing import Any

from starlette.datastructures import MutableHeaders

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Any]]
Send = Callable[[Any], Awaitable[None]]

FIXED = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
}


class ContentPolicy:
    """What the pages of one server may load and run."""

    def __init__(self) -> None:
        self._scripts: tuple[str, ...] = ()

    def allow_scripts(self, hashes: Sequence[str]) -> None:
        """Allow these scripts inside pages, by their hashes as a policy writes them: ``'sha256-...'``."""
        self._scripts = (*self._scripts, *hashes)

    def allow_handler(self, script: str) -> None:
        """Allow this script as the handler of an event in a page."""
        digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
        self.allow_scripts(["'unsafe-hashes'", f"'sha256-{digest}'"])

    def text(self) -> str:
        """The policy as the header says it."""
        return "; ".join((
            "default-src 'self'",
            " ".join(("script-src 'self'", *self._scripts)),
            "style-src 'self' 'unsafe-inline'",
            "img-src 'self' data: blob:",
            "object-src 'none'",
            "base-uri 'none'",
            "form-action 'self'",
            "frame-ancestors 'none'",
        ))


class SafeHeaders:
    """An ASGI application that adds these headers to the answers of another one."""

    def __init__(self, app: Any, policy: ContentPolicy) -> None:
        self._app = app
        self._policy = policy

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand on, and add the headers to the answer."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def send_with_headers(message: MutableMapping[str, Any]) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in {**FIXED, "Content-Security-Policy": self._policy.text()}.items():
                    headers[name] = value
            await send(message)

        await self._app(scope, receive, send_with_headers)
