"""Safety headers of every answer.

Rules of this file
------------------
1. Everything that a page loads comes from this server: `default-src 'self'`. This includes the websocket and module scripts.
2. Scripts come from files of this server. Dash also writes one script into the page that starts the renderer, and one for
   each clientside callback. Only these are allowed, by their hash. The page has one event handler, which reloads a page whose
   modules no longer exist. It is allowed by its hash too, which needs `'unsafe-hashes'`. No `eval`.
3. Styles may be written into a page (`'unsafe-inline'`, for styles only). The colour roles, the debrief and the lane sheet
   position their marks with `style` attributes, and Plotly adds style rules by script. A style runs no code.
4. Pictures may be `data:` and `blob:`, which Plotly needs to save and draw its own pictures.
5. No page of another site may show a page of this server in a frame. No form is sent to another site. No page may change its
   base address.
6. A browser relies on the stated content type (`nosniff`), and does not tell other sites from which page it came.
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
        """Allow scripts inside pages.

        Parameters
        ----------
        hashes
            Their hashes as a policy writes them: ``'sha256-...'``, with the quotes.
        """
        self._scripts = (*self._scripts, *hashes)

    def allow_handler(self, script: str) -> None:
        """Allow a script as the handler of an event in a page.

        Parameters
        ----------
        script
            Its text, as it is in the attribute.
        """
        digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
        self.allow_scripts(["'unsafe-hashes'", f"'sha256-{digest}'"])

    def text(self) -> str:
        """The value of the header `Content-Security-Policy`."""
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
        """Hand the request on, and add the headers to the answer."""
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
