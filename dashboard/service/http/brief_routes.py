"""Routes of the brief: the page, its papers and facts, and the step that the presenter shows to all who follow along."""

from __future__ import annotations

import asyncio
import json

from fastapi import APIRouter, FastAPI, Request, WebSocket, WebSocketDisconnect
from fastapi.responses import HTMLResponse, JSONResponse, Response
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from dashboard.core.base.problems import Problem
from dashboard.core.brief.facts import Brief
from dashboard.reports.brief_page import brief_page
from dashboard.service.access.roles import HOW, may
from dashboard.service.answers.briefs import Briefs, Presenting, Shown
from dashboard.service.desk import Desk
from dashboard.service.http.described import BODY, PresentedStep, answer, problems
from dashboard.service.http.live_push import HEARTBEAT_S, LONGEST_SEND_S
from dashboard.service.http.modules import Modules
from dashboard.service.http.problems import Refused, field_problem
from dashboard.service.http.requests import body_description, json_body, origin_fits, refuse_other_sites
from dashboard.service.http.visitors import Visitors

PAGE = "/brief"
SUBJECT = "presented step"


class WantedStep(BaseModel):
    """What the presenter wants to show."""

    model_config = ConfigDict(extra="forbid")

    step: int | None = Field(ge=1, description="number of the step; null: nobody presents any more")
    in_time: bool = Field(default=False, description="show all steps that begin together")


def add_brief_routes(server: FastAPI, router: APIRouter, desk: Desk, visitors: Visitors, modules: Modules) -> None:
    """Add the page under ``/brief`` with its papers, and under ``/api`` the step that is presented.

    Parameters
    ----------
    server
        Gets the page and the websocket.
    router
        The router under ``/api``.
    desk
        The sortie whose plan is briefed.
    visitors
        Finds out who sends a request, and records refusals.
    modules
        The browser's half of the page.
    """
    briefs, presenting = Briefs(desk), Presenting()
    _add_page(server, desk, briefs, visitors, modules)
    _add_step(router, desk, briefs, presenting, visitors)
    _add_live(server, briefs, presenting, visitors)


def _add_page(server: FastAPI, desk: Desk, briefs: Briefs, visitors: Visitors, modules: Modules) -> None:
    @server.get(PAGE, include_in_schema=False)
    async def page(request: Request) -> Response:
        facts, visitor = await briefs.facts(), await visitors.visitor(request)
        may_present = desk.may_log and may(visitor.role, "log")
        why_not = "" if may_present else f"To present, {HOW}."
        follow = request.query_params.get("follow") == "1"
        return HTMLResponse(brief_page(facts, modules.elements(), may_present=may_present, why_not=why_not, follow=follow))

    @server.get(f"{PAGE}.json", include_in_schema=False)
    async def facts() -> Response:
        return Response((await briefs.facts()).model_dump_json(), media_type="application/json")

    @server.get(f"{PAGE}.pdf", include_in_schema=False)
    async def paper() -> Response:
        return _file(await briefs.facts(), await briefs.paper("brief"), "brief")

    @server.get(f"{PAGE}/cuff.pdf", include_in_schema=False)
    async def cuff() -> Response:
        return _file(await briefs.facts(), await briefs.paper("cuff"), "cuff")


def _file(facts: Brief, content: bytes, what: str) -> Response:
    """A download, named after the sortie and the revision of its plan."""
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "-_.") else "-" for c in facts.sortie)
    head = {"Content-Disposition": f'attachment; filename="{what}-{plain}-{facts.revision}.pdf"'}
    return Response(content, media_type="application/pdf", headers=head)


def _add_step(router: APIRouter, desk: Desk, briefs: Briefs, presenting: Presenting, visitors: Visitors) -> None:
    @router.get(
        "/brief/step", summary="The step that is presented",
        responses=answer(PresentedStep, "`{step, in_time, by, revision}`; `step` is null when nobody presents"),
    )
    async def step() -> Response:
        """What everyone who follows along sees. The steps are those of `GET /brief.json`."""
        return JSONResponse(_as_answer(presenting.shown, await briefs.facts()))

    @router.post(
        "/brief/step", summary="Present a step of the brief",
        responses={
            **answer(PresentedStep, "what is presented now"), **BODY,
            **problems(
                e403="this needs another key, or the request comes from a page of another site",
                e422="the request is wrong, or the brief has no such step", e429="too many wrong keys came from this address",
            ),
        },
        openapi_extra=body_description("what to show", WantedStep),
    )  # fmt: skip
    async def show(request: Request) -> Response:
        """Show a step to everyone who follows along. If the server has keys, this needs the log key or the lead key."""
        refuse_other_sites(request)
        visitor = await visitors.visitor(request)
        if not (desk.may_log and may(visitor.role, "log")):
            raise Refused(403, Problem(SUBJECT, "the log key", visitor.why or visitor.called, f"{HOW[:1].upper()}{HOW[1:]}."))
        wanted, facts = await _wanted(request), await briefs.facts()
        if wanted.step is not None and wanted.step > len(facts.steps):
            expected, found = f"a step from 1 to {len(facts.steps)}", str(wanted.step)
            raise Refused(422, Problem(SUBJECT, expected, found, "Take a step of GET /brief.json."))
        presenting.show(Shown(wanted.step, wanted.in_time, visitor.name))
        return JSONResponse(_as_answer(presenting.shown, facts))


async def _wanted(request: Request) -> WantedStep:
    body = await json_body(request)
    if not isinstance(body, dict):
        raise Refused(422, Problem(SUBJECT, "a JSON object", "a list", 'For instance {"step": 3}.'))
    try:
        return WantedStep.model_validate(body)
    except ValidationError as wrong:
        raise Refused(422, *(field_problem(SUBJECT, error) for error in wrong.errors())) from None


def _as_answer(shown: Shown, facts: Brief) -> dict[str, object]:
    return {"step": shown.step, "in_time": shown.in_time, "by": shown.by, "revision": facts.revision}


def _add_live(server: FastAPI, briefs: Briefs, presenting: Presenting, visitors: Visitors) -> None:
    @server.websocket("/api/brief/live")
    async def live(socket: WebSocket) -> None:
        """Send what is presented: at once, at each change, and at least every `HEARTBEAT_S`."""
        if not origin_fits(socket.headers.get("origin"), socket.headers.get("host")):
            visitors.refused(socket, None, socket.url.path, f"a page of {socket.headers.get('origin')}")
            await socket.close(1008)
            return
        await socket.accept()
        facts, changed = await briefs.facts(), asyncio.Event()
        unsubscribe = presenting.subscribe(changed.set)
        pump = asyncio.create_task(_pump(socket, facts, presenting, changed))
        ears = asyncio.create_task(_listen(socket))
        try:
            await asyncio.wait({pump, ears}, return_when=asyncio.FIRST_COMPLETED)
        finally:
            unsubscribe()
            for task in (pump, ears):
                task.cancel()
            await asyncio.gather(pump, ears, return_exceptions=True)


async def _pump(socket: WebSocket, facts: Brief, presenting: Presenting, changed: asyncio.Event) -> None:
    while True:
        changed.clear()
        await asyncio.wait_for(socket.send_text(json.dumps(_as_answer(presenting.shown, facts))), LONGEST_SEND_S)
        try:
            await asyncio.wait_for(changed.wait(), HEARTBEAT_S)
        except TimeoutError:
            continue


async def _listen(socket: WebSocket) -> None:
    """Wait until the client leaves. What it says is not used."""
    try:
        while True:
            await socket.receive_text()
    except (WebSocketDisconnect, KeyError):  # gone, or it sent something that is not text
        return
