"""Routes for signing in and out: a plain form, and a cookie that expires and that no script can read."""

from __future__ import annotations

import time
from urllib.parse import parse_qs

from fastapi import FastAPI, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from dashboard.core.base.problems import Problem
from dashboard.service.http.problems import Refused
from dashboard.service.http.requests import refuse_other_sites
from dashboard.service.http.sign_in_page import sign_in_html
from dashboard.service.http.visitors import NOT_KNOWN, Visitors, forget_sign_in, keep_sign_in

LARGEST_FORM_BYTES = 4096
SEE_OTHER = 303
NOT_KEPT = {"Cache-Control": "no-store"}


def add_sign_in_routes(server: FastAPI, visitors: Visitors) -> None:
    """Add the page ``/sign-in``, the route of its form, and ``/sign-out``.

    Parameters
    ----------
    server
        Gets the routes.
    visitors
        Checks keys, and records refusals.
    """

    @server.get("/sign-in", include_in_schema=False)
    async def page(request: Request) -> Response:
        return _page(request, visitors)

    @server.post("/sign-in", include_in_schema=False)
    async def sign_in(request: Request) -> Response:
        refuse_other_sites(request)
        key = await _key_of_form(request)
        try:
            shown = await visitors.pass_of_key(request, key)
        except Refused as wrong:
            return _page(request, visitors, wrong.problems[0].text(), wrong.status)
        if shown is None:
            why = NOT_KNOWN if visitors.keys.any else "this server has no keys"
            return _page(request, visitors, f"{why[:1].upper()}{why[1:]}.", 403)
        visitor = visitors.visitor_of(shown)
        if visitor.why:
            visitors.refused(request, visitor, f"a key at {request.url.path}", visitor.why)
            return _page(request, visitors, f"{visitor.why[:1].upper()}{visitor.why[1:]}.", 403)
        answer = RedirectResponse("/", SEE_OTHER, NOT_KEPT)
        keep_sign_in(answer, request, visitors.keys, shown)
        return answer

    @server.post("/sign-out", include_in_schema=False)
    async def sign_out(request: Request) -> Response:
        refuse_other_sites(request)
        answer = RedirectResponse("/sign-in", SEE_OTHER, NOT_KEPT)
        if (shown := visitors.signed_in(request)) is not None:
            visitors.keys.sign_out(shown, time.time())
        forget_sign_in(answer, request)
        return answer


def _page(request: Request, visitors: Visitors, said: str = "", status: int = 200) -> Response:
    visitor = visitors.visitor_of(visitors.signed_in(request))
    return HTMLResponse(sign_in_html(visitor, has_keys=visitors.keys.any, said=said), status, NOT_KEPT)


async def _key_of_form(request: Request) -> str:
    """The key that the form sends.

    Raises
    ------
    Refused
        413 when the body is too large; 422 when it does not hold exactly one key.
    """
    data = bytearray()
    async for chunk in request.stream():
        data += chunk
        if len(data) > LARGEST_FORM_BYTES:
            cure = "Send only the key."
            raise Refused(413, Problem("sign-in", f"at most {LARGEST_FORM_BYTES} bytes", "more", cure))
    given = parse_qs(data.decode("utf-8", "replace")).get("key", [])
    if len(given) != 1 or not given[0].strip():
        raise Refused(422, Problem("sign-in", "one field 'key' of a form", f"{len(given)} keys", "Use the page /sign-in."))
    return given[0].strip()
