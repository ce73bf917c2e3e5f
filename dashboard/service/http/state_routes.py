"""Routes that read the sortie: its state, the reasons for its numbers, its plan, and how to take a decision back."""

from __future__ import annotations

import asyncio

from fastapi import APIRouter, Query
from fastapi.responses import JSONResponse, Response

from dashboard.core.base.problems import Problem
from dashboard.core.plan.model import Plan
from dashboard.core.state.model import SortieState
from dashboard.service.answers.reasons import Reasons
from dashboard.service.answers.take_back_question import take_back_of
from dashboard.service.desk import Desk, Snapshot
from dashboard.service.http.described import NO_STATE, Html, TakeBack, answer, problems
from dashboard.service.http.problems import Refused


async def state_of_now(desk: Desk) -> tuple[Snapshot, SortieState]:
    """The newest version and its state.

    Parameters
    ----------
    desk
        The desk that is asked.

    Returns
    -------
    tuple of Snapshot and SortieState
        They cover every event acknowledged before.

    Raises
    ------
    Refused
        503 when no state of now could be computed.
    """
    snapshot = await asyncio.to_thread(desk.current)
    if snapshot.state is None or snapshot.trouble is not None:
        raise Refused(503, Problem("state", "a state of now", snapshot.trouble or "none", "The events are safe."))
    return snapshot, snapshot.state


def add_state_routes(router: APIRouter, desk: Desk) -> None:
    """Add the routes that only read.

    Parameters
    ----------
    router
        The router under ``/api``.
    desk
        The desk that is read.
    """

    @router.get("/state", summary="The state of the sortie", responses={**answer(SortieState, "SortieState"), **NO_STATE})
    async def state() -> Response:
        """The newest state, as `GET /api/schema` describes it. It covers every event acknowledged before."""
        _, now = await state_of_now(desk)
        return Response(await asyncio.to_thread(now.model_dump_json), media_type="application/json")

    reasons = Reasons(desk)

    @router.get("/why", summary="Why these numbers", responses={**answer(Html, '`{"html": ...}`'), **NO_STATE})
    async def why() -> Response:
        """The drift so far, and what each derived number rests on, in words, as the board shows them."""
        return JSONResponse({"html": await reasons.html(*await state_of_now(desk))})

    @router.get(
        "/take-back",
        summary="How to take a decision back",
        responses={
            **answer(TakeBack, "`{events, text}`"),
            **problems(e404="no such decision counts", e422="no decision is named"), **NO_STATE,
        },
    )
    async def take_back(decision: str = Query(description="id of the decision")) -> Response:
        """Events that reverse the decision as far as that is still possible, and in words what they do and what stays.

        It sends no event.
        """
        _, now = await state_of_now(desk)
        content = await asyncio.to_thread(take_back_of, desk, decision, now)
        return JSONResponse(content, 404 if "problems" in content else 200)

    @router.get(
        "/plan", summary="The briefed plan", responses=answer(Plan, "Plan, as `GET /api/schema?of=plan` says")
    )
    async def plan() -> Response:
        """The plan as loaded."""
        return Response(
            desk.plan.model_dump_json(by_alias=True, exclude_none=True), media_type="application/json"
        )
