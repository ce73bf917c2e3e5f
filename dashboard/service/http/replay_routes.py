"""Routes of a replay: the control of its clock, and the strip of its bar."""

from __future__ import annotations

import asyncio

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response
from pydantic import ValidationError

from dashboard.core.base.problems import InputError, Problem
from dashboard.service.access.roles import HOW, may
from dashboard.service.answers.replay_strips import Strips
from dashboard.service.desk import Desk
from dashboard.service.http.described import BODY, ReplayPlace, Strip, answer, problems
from dashboard.service.http.problems import Refused, field_problem
from dashboard.service.http.requests import body_description, json_body, refuse_other_sites
from dashboard.service.http.visitors import Visitors
from dashboard.service.session.control import ReplayControl


def add_replay_routes(router: APIRouter, desk: Desk, visitors: Visitors) -> None:
    """Add the routes of a replay. A live sortie answers them with 409.

    Parameters
    ----------
    router
        The router under ``/api``.
    desk
        The desk whose clock is moved.
    visitors
        Finds out who sends a request, and records refusals.
    """

    @router.post(
        "/replay",
        summary="Control the clock of a replay",
        responses={
            **answer(ReplayPlace, "where the clock is: `mode`, `speed`, `now`, `pet_min`"),
            **BODY,
            **problems(
                e403="this needs another key, or the request comes from a page of another site", e409="the sortie is live",
                e422="the request is wrong, or the clock cannot do this", e429="too many wrong keys came from this address",
            ),
        },
        openapi_extra=body_description("what to do", ReplayControl),
    )
    async def replay(request: Request) -> Response:
        """Play, pause, seek, change the speed, or step to the next or previous event or decision.

        All viewers share the clock. If the server has keys, moving it needs the log key or the lead key.
        """
        refuse_other_sites(request)
        visitor = await visitors.visitor(request)
        if not may(visitor.role, "log"):
            cure, found = f"{HOW[:1].upper()}{HOW[1:]}.", visitor.why or visitor.called
            raise Refused(403, Problem("replay control", "the log key", found, cure))
        wanted = await _wanted(request)
        _refuse_live(desk, "replay control", "Only a replay can be controlled.")
        try:
            await asyncio.to_thread(desk.control, wanted)
        except InputError as wrong:
            raise Refused(422, *wrong.problems) from None
        head = (await asyncio.to_thread(desk.current)).head
        return JSONResponse({key: head[key] for key in ("version", "mode", "speed", "now", "pet_min")})

    strips = Strips(desk)

    @router.get(
        "/replay/strip",
        summary="What the strip of a replay shows",
        responses={
            **answer(Strip, "`{events, decisions, drift, worst, html}`, PET in minutes"), **problems(e409="the sortie is live"),
        },
    )
    async def strip() -> Response:
        """When the room received events and decisions, and how far the worse crew lane was ahead (positive) or behind.

        `worst` is the moment at which that lane was most behind, among the moments computed; null when it never was behind.
        """
        _refuse_live(desk, "replay strip", "Only a replay has a strip.")
        return Response(await strips.json(), media_type="application/json")


async def _wanted(request: Request) -> ReplayControl:
    body = await json_body(request)
    if not isinstance(body, dict):
        cure = 'For instance {"action": "pause"}.'
        raise Refused(422, Problem("replay control", "a JSON object", "a list", cure))
    try:
        return ReplayControl.model_validate(body)
    except ValidationError as wrong:
        raise Refused(422, *(field_problem("replay control", error) for error in wrong.errors())) from None


def _refuse_live(desk: Desk, subject: str, cure: str) -> None:
    if desk.session.run is None:
        raise Refused(409, Problem(subject, "a replay", "a live sortie", cure))
