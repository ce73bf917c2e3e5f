"""Finds out who sends a request: by the key in `Authorization`, else by the sign-in that the browser keeps.

A wrong key is answered slowly, and after too many of them an address must wait (`dashboard.service.access.attempts`).
Refusals are written to the record of refusals.
"""

from __future__ import annotations

import asyncio
import math
import time
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from starlette.requests import HTTPConnection, Request
from starlette.responses import Response

from dashboard.core.base.problems import Problem
from dashboard.service.access.attempts import Attempts
from dashboard.service.access.audit import Audit
from dashboard.service.access.keys import SIGNED_IN_S, Keys, Pass
from dashboard.service.access.roles import Visitor
from dashboard.service.http.problems import Refused

SLOW_S = 0.5
NOT_KNOWN = "the key is not known here"


class Visitors:
    """Finds out who sends a request, and records refusals.

    Parameters
    ----------
    keys : Keys
        The keys of the server.
    audit : Audit
        Gets the refusals.
    attempts : Attempts or None
        Counts wrong keys; None: a new count begins.
    """

    def __init__(self, keys: Keys, audit: Audit, attempts: Attempts | None = None) -> None:
        self.keys, self._audit = keys, audit
        self._attempts = attempts or Attempts()

    async def visitor(self, connection: HTTPConnection) -> Visitor:
        """Who sends a request, and what they may do now.

        Parameters
        ----------
        connection
            The request or websocket.

        Returns
        -------
        Visitor
            Also kept as `connection.state.visitor`. With the reason when a key was sent that is unknown.

        Raises
        ------
        Refused
            429 when the address has sent too many wrong keys.
        """
        shown = await self.shown(connection)
        visitor = self.visitor_of(shown)
        if shown is None and self.keys.any and _bearer(connection) is not None:
            visitor = replace(visitor, why=NOT_KNOWN)
        connection.state.visitor = visitor
        return visitor

    async def shown(self, connection: HTTPConnection) -> Pass | None:
        """The pass that a request shows, by its key, else by its sign-in.

        Parameters
        ----------
        connection
            The request or websocket.

        Returns
        -------
        Pass or None
            None: it shows no key or sign-in that is known here.

        Raises
        ------
        Refused
            429 when the address has sent too many wrong keys.
        """
        key = _bearer(connection)
        if key is not None:
            return await self.pass_of_key(connection, key)
        return self.signed_in(connection)

    def signed_in(self, connection: HTTPConnection) -> Pass | None:
        """The pass of the sign-in that the browser sends.

        Parameters
        ----------
        connection
            The request or websocket.

        Returns
        -------
        Pass or None
            Also when the sign-in has expired; None: there is no sign-in of this server.
        """
        statement = connection.cookies.get(_cookie_name(connection))
        return None if statement is None else self.keys.pass_of_sign_in(statement)

    def visitor_of(self, shown: Pass | None) -> Visitor:
        """Who shows a pass, judged now: a key may be revoked meanwhile, and a sign-in expires.

        Parameters
        ----------
        shown
            The pass; None: nothing was shown.

        Returns
        -------
        Visitor
            With the reason when the pass no longer counts.
        """
        return self.keys.visitor(shown, time.time())

    async def pass_of_key(self, connection: HTTPConnection, key: str) -> Pass | None:
        """The pass that a key gives. An unknown key is counted, recorded as refused, and answered slowly.

        Parameters
        ----------
        connection
            The request that sends the key.
        key
            The key.

        Returns
        -------
        Pass or None
            None: the key is unknown, or the server has no keys.

        Raises
        ------
        Refused
            429 when the address has sent too many wrong keys.
        """
        if not self.keys.any:
            return None
        address = _address_of(connection)
        wait_s = self._attempts.wait_s(address)
        shown = self.keys.pass_of_key(key, chosen=not wait_s)
        if shown is not None:
            return shown
        if wait_s:
            seconds = math.ceil(wait_s)
            self.refused(connection, None, f"a key at {connection.url.path}", f"too many wrong keys, {seconds} s to wait")
            cure = f"Wait {seconds} s. A person who is signed in, or who shows a key of the key file, need not wait."
            raise Refused(429, Problem("key", "few wrong keys from one address", "too many", cure))
        self._attempts.wrong(address)
        self.refused(connection, None, f"a key at {connection.url.path}", NOT_KNOWN)
        await asyncio.sleep(SLOW_S)
        return None

    def refused(self, connection: HTTPConnection, visitor: Visitor | None, what: str, why: str) -> None:
        """Enter a refusal in the record.

        Parameters
        ----------
        connection
            The request or websocket.
        visitor
            Who sent it; None: unknown.
        what
            What was refused, in words.
        why
            The reason, in words.
        """
        self._audit.refused(_address_of(connection), "no key" if visitor is None else visitor.called, what, why)

    def forbidden(self, request: Request, problem: Problem) -> None:
        """Enter a request that was answered with 403.

        Parameters
        ----------
        request
            The request.
        problem
            Why it was forbidden.
        """
        visitor: Visitor | None = getattr(request.state, "visitor", None)
        why = f"expected {problem.expected}; found {problem.found}"
        self.refused(request, visitor, f"{request.method} {request.url.path}", why)

    def refused_events(
        self, connection: HTTPConnection, visitor: Visitor, items: Iterable[Any], outcomes: Iterable[dict[str, Any]]
    ) -> None:
        """Enter the events of a request that its sender may not enter: one line for each kind and reason.

        Parameters
        ----------
        connection
            The request.
        visitor
            Who sent it.
        items
            The items of the request, as sent.
        outcomes
            The outcome of each item, in the same order.
        """
        alike: dict[tuple[str, str], list[str]] = {}
        for item, outcome in zip(items, outcomes, strict=True):
            if outcome.get("forbidden", False):
                kind = item.get("kind") if isinstance(item, dict) else None
                alike.setdefault((f"'{kind}'" if isinstance(kind, str) else "an event", outcome["why"]), []).append(
                    outcome["id"] or "without id"
                )
        for (what, why), ids in alike.items():
            many = f"{len(ids)} times, first " if len(ids) > 1 else ""
            self.refused(connection, visitor, f"{what}, {many}id {ids[0]}", why)


def _address_of(connection: HTTPConnection) -> str:
    """The address of the sender; behind a proxy that the server was told of, the address that the proxy names."""
    return connection.client.host if connection.client else ""


def keep_sign_in(answer: Response, connection: HTTPConnection, keys: Keys, shown: Pass) -> None:
    """Set the cookie of a sign-in. No script can read it, and only pages of this server send it.

    Parameters
    ----------
    answer
        Gets the cookie.
    connection
        The request that is answered.
    keys
        They sign the statement.
    shown
        The pass that the person showed.
    """
    answer.set_cookie(
        _cookie_name(connection), keys.sign_in(shown, time.time()), max_age=SIGNED_IN_S,
        httponly=True, samesite="strict", secure=connection.url.scheme in ("https", "wss"),
    )  # fmt: skip


def forget_sign_in(answer: Response, connection: HTTPConnection) -> None:
    """Delete the cookie of a sign-in.

    Parameters
    ----------
    answer
        Deletes the cookie.
    connection
        The request that is answered.
    """
    secure = connection.url.scheme in ("https", "wss")
    answer.delete_cookie(_cookie_name(connection), httponly=True, samesite="strict", secure=secure)


def _cookie_name(connection: HTTPConnection) -> str:
    """Name of the cookie, with the port: a browser shares cookies between the ports of a host, two servers must not."""
    standard = 443 if connection.url.scheme in ("https", "wss") else 80
    return f"tetherline_{connection.url.port or standard}"


def _bearer(connection: HTTPConnection) -> str | None:
    """The key in the header `Authorization`; None: there is none."""
    scheme, _, key = connection.headers.get("authorization", "").partition(" ")
    return key.strip() if scheme.lower() == "bearer" else None
