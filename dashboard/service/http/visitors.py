"""Whoever speaks to the server: by the key in `Authorization`, else by the sign-in that the browser keeps.

A wrong key is answered slowly, and after too many of them an address waits (`dashboard.service.access.attempts`). What is
refused goes into the record of refusals.
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
    """Tells who speaks.

    Parameters
    ----------
    keys : Keys
    audit : Audit
    attempts : Attempts or None
        The wrong keys of late; None: counted from now on.
    """

    def __init__(self, keys: Keys, audit: Audit, attempts: Attempts | None = None) -> None:
        self.keys, self._audit = keys, audit
        self._attempts = attempts or Attempts()

    async def visitor(self, connection: HTTPConnection) -> Visitor:
        """Who speaks, and what they may do now.

        Raises
        ------
        Refused
            429 when the address has shown too many wrong keys.
        """
        shown = await self.shown(connection)
        visitor = self.standing(shown)
        if shown is None and self.keys.any and _bearer(connection) is not None:
            visitor = replace(visitor, why=NOT_KNOWN)
        connection.state.visitor = visitor
        return visitor

    async def shown(self, connection: HTTPConnection) -> Pass | None:
        """What was shown; None: nothing that is known here. Raises as `visitor` does."""
        key = _bearer(connection)
        if key is not None:
            return await self.pass_of_key(connection, key)
        return self.signed_in(connection)

    def signed_in(self, connection: HTTPConnection) -> Pass | None:
        """What the sign-in gives that the browser sends; None: it sends none that was made here."""
        statement = connection.cookies.get(cookie_name(connection))
        return None if statement is None else self.keys.pass_of_sign_in(statement)

    def standing(self, shown: Pass | None) -> Visitor:
        """Who that is now: a key may be revoked meanwhile, and a sign-in runs out."""
        return self.keys.visitor(shown, time.time())

    async def pass_of_key(self, connection: HTTPConnection, key: str) -> Pass | None:
        """What a key gives; one that is not known here is answered slowly, with None. Raises as `visitor` does."""
        if not self.keys.any:
            return None
        address = address_of(connection)
        wait_s = self._attempts.wait_s(address)
        shown = self.keys.pass_of_key(key, chosen=not wait_s)
        if shown is not None:
            return shown
        if wait_s:
            seconds = math.ceil(wait_s)
            self.refused(connection, None, f"a key at {connection.url.path}", f"too many wrong keys, {seconds} s to wait")
            cure = f"Wait {seconds} s. Whoever signed in, or shows a key of the key file, need not wait."
            raise Refused(429, Problem("key", "few wrong keys from one address", "too many", cure))
        self._attempts.wrong(address)
        self.refused(connection, None, f"a key at {connection.url.path}", NOT_KNOWN)
        await asyncio.sleep(SLOW_S)
        return None

    def refused(self, connection: HTTPConnection, visitor: Visitor | None, what: str, why: str) -> None:
        """Enter a refusal in the record; `visitor` None: nobody who is known."""
        self._audit.refused(address_of(connection), "no key" if visitor is None else visitor.called, what, why)

    def forbidden(self, request: Request, problem: Problem) -> None:
        """Enter a request that was forbidden as a whole."""
        visitor: Visitor | None = getattr(request.state, "visitor", None)
        why = f"expected {problem.expected}; found {problem.found}"
        self.refused(request, visitor, f"{request.method} {request.url.path}", why)

    def refused_events(
        self, connection: HTTPConnection, visitor: Visitor, items: Iterable[Any], outcomes: Iterable[dict[str, Any]]
    ) -> None:
        """Enter the events of a request that were refused: one line for those of one kind and one reason."""
        alike: dict[tuple[str, str], list[str]] = {}
        for item, outcome in zip(items, outcomes, strict=True):
            if outcome["status"] == "refused":
                kind = item.get("kind") if isinstance(item, dict) else None
                alike.setdefault((f"'{kind}'" if isinstance(kind, str) else "an event", outcome["why"]), []).append(
                    outcome["id"] or "without id"
                )
        for (what, why), ids in alike.items():
            many = f"{len(ids)} times, first " if len(ids) > 1 else ""
            self.refused(connection, visitor, f"{what}, {many}id {ids[0]}", why)


def address_of(connection: HTTPConnection) -> str:
    """The address from which someone speaks; behind a proxy on this computer, that which the proxy names."""
    return connection.client.host if connection.client else ""


def keep_sign_in(answer: Response, connection: HTTPConnection, keys: Keys, shown: Pass) -> None:
    """Have the browser keep a sign-in where no script reads it, and send it with requests of this server's pages only."""
    answer.set_cookie(
        cookie_name(connection), keys.sign_in(shown, time.time()), max_age=SIGNED_IN_S,
        httponly=True, samesite="strict", secure=connection.url.scheme in ("https", "wss"),
    )  # fmt: skip


def forget_sign_in(answer: Response, connection: HTTPConnection) -> None:
    """Have the browser forget it."""
    secure = connection.url.scheme in ("https", "wss")
    answer.delete_cookie(cookie_name(connection), httponly=True, samesite="strict", secure=secure)


def cookie_name(connection: HTTPConnection) -> str:
    """Cookies do not tell ports apart; two servers of one computer must."""
    standard = 443 if connection.url.scheme in ("https", "wss") else 80
    return f"tetherline_{connection.url.port or standard}"


def _bearer(connection: HTTPConnection) -> str | None:
    """The key in the header `Authorization`; None: there is none."""
    scheme, _, key = connection.headers.get("authorization", "").partition(" ")
    return key.strip() if scheme.lower() == "bearer" else None
