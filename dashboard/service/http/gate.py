"""The gate before every route: checks the host name of a request, and takes keys out of the address of a page.

A page of another site can let its own host name point to this computer, and then send requests to a server here as to its
own (DNS rebinding). A server for this computer alone therefore answers only to the names of this computer.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Awaitable, Callable, MutableMapping, Sequence
from typing import Any
from urllib.parse import parse_qsl, urlencode, urlsplit

from starlette.requests import HTTPConnection
from starlette.responses import PlainTextResponse, RedirectResponse, Response

from dashboard.core.base.problems import InputError, Problem
from dashboard.service.access.keys import Keys
from dashboard.service.http.problems import Refused
from dashboard.service.http.visitors import NOT_KNOWN, Visitors, keep_sign_in

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Any]]
Send = Callable[[Any], Awaitable[None]]
THIS_COMPUTER = ("localhost", "127.0.0.1", "::1")


def hosts_of(host: str, names: Sequence[str] = ()) -> frozenset[str] | None:
    """The host names that a server on this address answers to.

    Parameters
    ----------
    host : str
        The address that it serves on.
    names : sequence of str
        Names by which other computers call it.

    Returns
    -------
    frozenset of str or None
        In lower case, without brackets; None: any name, since it serves other computers too.
    """
    if names:
        return frozenset((*THIS_COMPUTER, *(name.strip("[]").lower() for name in names)))
    name = host.strip("[]").lower()
    try:
        loopback = ipaddress.ip_address(name).is_loopback
    except ValueError:
        loopback = name == "localhost"
    return frozenset((*THIS_COMPUTER, name)) if loopback else None


def checked_reach(host: str, names: Sequence[str], keys: Keys) -> frozenset[str] | None:
    """The host names that the server answers to, after checking that it is safe to serve so.

    Parameters
    ----------
    host
        The address that it serves on.
    names
        Names by which other computers call it.
    keys
        The keys of the server.

    Returns
    -------
    frozenset of str or None
        As `hosts_of` gives it.

    Raises
    ------
    InputError
        When the server has neither keys nor names and serves other computers. Everyone there, and any page that they open,
        could then record decisions.
    """
    hosts = hosts_of(host, names)
    if hosts is None and not keys.any:
        cure = (
            "Give --keys, or --log-key and --lead-key, so that a key decides the role. Or give --name with the name by which "
            "other computers call this one: the server then answers to that name only, and everyone is lead."
        )
        raise InputError([Problem(f"option --host {host}", "keys, or names that the server answers to", "neither", cure)])
    return hosts


class Gate:
    """An ASGI application before another one.

    Parameters
    ----------
    app : an ASGI application
        Gets every request that passes.
    visitors : Visitors
        Finds out who sends a request, and records refusals.
    hosts : frozenset of str or None
        The host names that are answered, from `hosts_of`; None: any name.
    """

    def __init__(self, app: Any, visitors: Visitors, hosts: frozenset[str] | None) -> None:
        self._app = app
        self._visitors = visitors
        self._hosts = hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer the request here, or hand it on."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        connection = HTTPConnection(scope)
        answer = self._wrong_host(connection)
        if answer is not None and scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1008})
            return
        if answer is None and scope["type"] == "http" and scope["method"] == "GET":
            answer = await self._key_given(connection)
        await (answer or self._app)(scope, receive, send)

    def _wrong_host(self, connection: HTTPConnection) -> Response | None:
        if self._hosts is None:
            return None
        given = connection.headers.get("host")
        try:
            name = urlsplit(f"//{given or ''}").hostname
        except ValueError:
            name = None
        if name in self._hosts:
            return None
        why = f"sent to {given!r}, which is not a name of this server"
        self._visitors.refused(connection, None, connection.url.path, why)
        said = f"This server answers to {', '.join(sorted(self._hosts))}; the request was sent to {given!r}. "
        cure = "Open the address that it printed, or serve it to other computers with --host.\n"
        return PlainTextResponse(said + cure, 421 if name else 400)

    async def _key_given(self, connection: HTTPConnection) -> Response | None:
        """Take the key out of the address of a page and into a cookie that no script can read."""
        url = connection.url
        if url.path.startswith("/api") or "key" not in connection.query_params:
            return None
        rest = [(name, value) for name, value in parse_qsl(url.query, True) if name != "key"]
        path = "/" + url.path.lstrip("/\\")  # a path that begins with two slashes would lead to another host
        answer = RedirectResponse(f"{path}{'?' if rest else ''}{urlencode(rest)}", 303)
        answer.headers["Cache-Control"] = "no-store"
        answer.headers["Referrer-Policy"] = "no-referrer"
        if not self._visitors.keys.any:
            return answer
        try:
            shown = await self._visitors.pass_of_key(connection, connection.query_params["key"])
        except Refused as wrong:
            return PlainTextResponse(f"{wrong.problems[0].text()}\n", wrong.status)
        why = NOT_KNOWN if shown is None else self._visitors.visitor_of(shown).why
        if shown is None or why:
            said = f"{why[:1].upper()}{why[1:]}. Ask for the right key, or open the address without ?key= to watch.\n"
            return PlainTextResponse(said, 403)
        keep_sign_in(answer, connection, self._visitors.keys, shown)
        return answer

