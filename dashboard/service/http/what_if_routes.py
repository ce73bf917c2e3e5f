"""The route of what-if: the figures of any set of changes."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from dashboard.core.events.change import Change
from dashboard.service.answers.what_if_requests import WhatIfs
from dashboard.service.desk import Desk
from dashboard.service.http.described import BODY, NO_STATE, WhatIf, answer, problems
from dashboard.service.http.requests import body_description, json_body, refuse_other_sites
from dashboard.service.http.state_routes import state_of_now


def add_what_if_routes(router: APIRouter, desk: Desk) -> None:
    """Add the route of what-if.

    Parameters
    ----------
    router
        The router under ``/api``.
    desk
        Its sortie is the base of the changes.
    """
    what_ifs = WhatIfs(desk)

    @router.post(
        "/what-if",
        summary="The figures of giving up any set of tasks",
        responses={
            **answer(WhatIf, "`{choice, along, broken, draws, pet_min, caution, html}`"),
            **BODY, **problems(e409="a newer request came meanwhile", e422="the request is wrong"), **NO_STATE,
        },
        openapi_extra=body_description("what would be given up", Change),
    )
    async def what_if(request: Request) -> Response:
        """Records nothing. Tasks that come after a deferred task are deferred too; broken rules of the plan are listed."""
        refuse_other_sites(request)
        body = await json_body(request)
        _, now = await state_of_now(desk)
        status, content = await what_ifs.answer(body, now)
        return JSONResponse(content, status)
