"""The HTTP interface and the live push of a desk: every route under ``/api``."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any, Literal

import orjson
from fastapi import APIRouter, FastAPI, Query, Request, WebSocket, WebSocketDisconnect
from fastapi.exceptions import RequestValidationError
from fastapi.openapi.utils import get_openapi
from fastapi.responses import HTMLResponse, JSONResponse, Response
from pydantic import ValidationError

from dashboard.core.base.caution import CAUTION
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.events.kinds import complaint
from dashboard.core.state.model import SortieState
from dashboard.service.answers.debriefs import add_debrief
from dashboard.service.answers.reasons import Reasons
from dashboard.service.answers.replay_strips import Strips
from dashboard.service.answers.take_back_question import take_back_of
from dashboard.service.answers.what_if_requests import WhatIf, WhatIfs
from dashboard.service.desk import Desk, Snapshot
from dashboard.service.http.docs_page import docs_html
from dashboard.service.http.gate import Gate, role_of
from dashboard.service.intake import TAKEN
from dashboard.service.roles import HOW, Keys, may
from dashboard.service.schemas import json_schema
from dashboard.service.session.control import ReplayControl
from dashboard.service.version import program_version

LARGEST_BODY_BYTES = 1_000_000
DRAINED_BYTES = 20_000_000
HEARTBEAT_S = 2.0
LONGEST_SEND_S = 30.0

INTRODUCTION = "Every number that a screen shows can be had here, and events can be sent here. " + CAUTION


class Refused(Exception):
    """A request that cannot be answered, with the HTTP status and the problems."""

    def __init__(self, status: int, *problems: Problem) -> None:
        super().__init__(status)
        self.status = status
        self.problems = problems


def make_api(desk: Desk, keys: Keys | None = None, hosts: frozenset[str] | None = None) -> FastAPI:
    """The server with every route under ``/api``; it opens and closes the desk.

    Parameters
    ----------
    desk : Desk
    keys : Keys or None
        Who may do what; None: everyone is lead.
    hosts : frozenset of str or None
        The names it answers to, from `gate.hosts_of`; None: any.
    """
    keys = keys or Keys()

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        await asyncio.to_thread(desk.open)
        yield
        await asyncio.to_thread(desk.close)

    server = FastAPI(docs_url=None, redoc_url=None, openapi_url=None, lifespan=lifespan)
    router = APIRouter(prefix="/api")
    _add_reading(router, desk)
    _add_taking(router, desk, keys)
    _add_what_if(router, desk)
    _add_description(router)
    server.include_router(router)
    _add_live(server, desk, keys)
    add_debrief(server, desk)
    server.add_api_route("/api", _unknown_route, methods=["GET", "POST", "PUT", "PATCH", "DELETE"])
    server.add_api_route(
        "/api/{rest:path}", _unknown_route, methods=["GET", "POST", "PUT", "PATCH", "DELETE"]
    )
    _add_handlers(server)
    server.add_middleware(Gate, keys=keys, hosts=hosts)
    return server


def _add_reading(router: APIRouter, desk: Desk) -> None:
    @router.get("/state", summary="The state of the sortie", response_description="SortieState")
    async def state() -> Response:
        """The newest state, as `GET /api/schema` describes it. It covers every event acknowledged before."""
        _, now = await _state_of_now(desk)
        return Response(await asyncio.to_thread(now.model_dump_json), media_type="application/json")

    reasons = Reasons(desk)

    @router.get("/why", summary="Why these numbers", response_description='`{"html": ...}`')
    async def why() -> Response:
        """The drift so far and what each derived number rests on, in words, as the board shows it."""
        return JSONResponse({"html": await reasons.html(*await _state_of_now(desk))})

    @router.get(
        "/take-back",
        summary="What takes a decision back",
        response_description="`{events, text}`",
        responses={404: {"description": "no such decision counts"}},
    )
    async def take_back(decision: str = Query(description="id of the decision")) -> Response:
        """The events that reverse it as far as that is still open, and in words what they do and what stays; sends nothing."""
        _, now = await _state_of_now(desk)
        content = await asyncio.to_thread(take_back_of, desk, decision, now)
        return JSONResponse(content, 404 if "problems" in content else 200)

    @router.get(
        "/events", summary="The events of the log", response_description="list of events in order of `cursor`"
    )
    async def events(
        after: int = Query(
            default=0, ge=0, description="only those with a `cursor` above this: that of the last row you have"
        ),
    ) -> Response:
        """Every event as it came in, with `seq`, `received` and `cursor`.

        To follow the log, ask again with `after` set to the `cursor` of the last row. `cursor` counts in order of
        receipt by this server, so nothing is missed: live it equals `seq`; in a replay, where an event that is entered
        may have a `seq` above those still to come, it does not. When the clock of a replay goes back, rows that are
        received once more come once more, under a new `cursor`; know them by their `id`.

        What was not understood comes as `line` and `why`.
        """
        rows = await asyncio.to_thread(desk.rows_after, after)
        return Response(orjson.dumps(rows), media_type="application/json")

    @router.get(
        "/plan", summary="The briefed plan", response_description="Plan, as `GET /api/schema?of=plan` says"
    )
    async def plan() -> Response:
        """The plan as loaded."""
        return Response(
            desk.plan.model_dump_json(by_alias=True, exclude_none=True), media_type="application/json"
        )


async def _state_of_now(desk: Desk) -> tuple[Snapshot, SortieState]:
    """The newest version and its state; refused when no state of now could be computed."""
    snapshot = await asyncio.to_thread(desk.current)
    if snapshot.state is None or snapshot.trouble is not None:
        raise Refused(503, Problem("state", "a state of now", snapshot.trouble or "none", "The events are safe."))
    return snapshot, snapshot.state


def _add_taking(router: APIRouter, desk: Desk, keys: Keys) -> None:
    @router.post(
        "/events",
        summary="Send one event or a list of events",
        response_description='`{"outcomes": [{status, id, seq, why, hint}]}`',
        responses={
            207: {"description": "some were not taken"},
            403: {"description": "all were refused: they need another key, or would change the time before a rehearsal"},
            422: {"description": "none was taken"},
        },
        openapi_extra=_body(
            "one event, or a list of events, as `GET /api/schema?of=events` says; "
            "a missing `id` gets a new one, a missing `at` is now"
        ),
    )
    async def send(request: Request) -> Response:
        """Takes events. Each is on disk before it is acknowledged. The same event twice is recorded once.

        Where the server has keys, give yours as `Authorization: Bearer KEY`. Decisions need the lead key, everything
        else the log key, and a correction what its event needs; an event without it is answered with `refused`.
        A `hint` says what looks odd about an event that was taken.
        """
        _same_host(request)
        if not desk.may_log:
            raise Refused(
                403,
                Problem(
                    "event",
                    "a server that takes events",
                    "one that only shows",
                    "Send it to the server that keeps the log.",
                ),
            )
        body = await _json_body(request)
        items = body if isinstance(body, list) else [body]
        outcomes = await asyncio.to_thread(desk.record, items, role_of(request, keys))
        statuses = [outcome["status"] for outcome in outcomes]
        return JSONResponse({"outcomes": outcomes}, _status(statuses))

    @router.post(
        "/replay",
        summary="Control the clock of a replay",
        response_description="where the clock is: `mode`, `speed`, `now`, `pet_min`",
        responses={
            403: {"description": "it needs another key"},
            409: {"description": "the sortie is live"},
            422: {"description": "cannot be done"},
        },
        openapi_extra=_body("what to do", ReplayControl.model_json_schema(mode="validation")),
    )
    async def replay(request: Request) -> Response:
        """Play, pause, seek, change the speed, or step to the next or previous event or decision.

        The clock is one for all who watch: where the server has keys, moving it needs the log key or the lead key.
        """
        _same_host(request)
        if not may(role_of(request, keys), "log"):
            cure = f"{HOW[:1].upper()}{HOW[1:]}."
            raise Refused(403, Problem("replay control", "the log key", "no key that is known here", cure))
        body = await _json_body(request)
        if not isinstance(body, dict):
            cure = 'For instance {"action": "pause"}.'
            raise Refused(422, Problem("replay control", "a JSON object", "a list", cure))
        try:
            wanted = ReplayControl.model_validate(body)
        except ValidationError as wrong:
            raise Refused(
                422, *(_field_problem("replay control", error) for error in wrong.errors())
            ) from None
        if not desk.replaying:
            raise Refused(
                409,
                Problem("replay control", "a replay", "a live sortie", "Only a replay can be controlled."),
            )
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
        response_description="`{events, decisions, drift, worst, html}`, PET in minutes",
        responses={409: {"description": "the sortie is live"}},
    )
    async def strip() -> Response:
        """When the room received events and decisions, and how far the worse crew lane was ahead (positive) or behind.

        `worst` is the moment at which it was most behind, of those that were followed; null when it never was.
        """
        if desk.run is None:
            raise Refused(409, Problem("replay strip", "a replay", "a live sortie", "Only a replay has a strip."))
        return Response(await strips.json(), media_type="application/json")


def _status(statuses: list[str]) -> int:
    """200: all were taken, 207: some, 403: all were refused, 422: none was taken."""
    taken = sum(status in TAKEN for status in statuses)
    if taken:
        return 200 if taken == len(statuses) else 207
    return 403 if set(statuses) == {"refused"} else 422


def _add_what_if(router: APIRouter, desk: Desk) -> None:
    what_ifs = WhatIfs(desk)

    @router.post(
        "/what-if",
        summary="The figures of giving up any set of tasks",
        response_description="`{choice, along, broken, draws, pet_min, caution, html}`",
        responses={409: {"description": "a newer request came meanwhile"}, 422: {"description": "cannot be answered"}},
        openapi_extra=_body("what would be given up", WhatIf.model_json_schema()),
    )
    async def what_if(request: Request) -> Response:
        """Records nothing. What comes after a deferred task goes along; broken rules of the plan are listed."""
        _same_host(request)
        body = await _json_body(request)
        _, now = await _state_of_now(desk)
        status, content = await what_ifs.answer(body, now)
        return JSONResponse(content, status)


def _add_description(router: APIRouter) -> None:
    @router.get(
        "/schema",
        summary="JSON Schema of the state, the events or the plan",
        response_description="JSON Schema",
    )
    async def schema(of: Literal["state", "events", "plan"] = "state") -> Response:
        """What the fields mean."""
        return JSONResponse(json_schema(of))

    @router.get("/openapi.json", include_in_schema=False)
    async def openapi() -> Response:
        return JSONResponse(_openapi(router))

    @router.get("/docs", include_in_schema=False)
    async def docs() -> Response:
        return HTMLResponse(docs_html(_openapi(router)))


def _add_live(server: FastAPI, desk: Desk, keys: Keys) -> None:
    @server.websocket("/api/live")
    async def live(socket: WebSocket) -> None:
        if not _origin_fits(socket.headers.get("origin"), socket.headers.get("host")):
            await socket.close(1008)
            return
        role = role_of(socket, keys)
        await socket.accept()
        changed, loop = asyncio.Event(), asyncio.get_running_loop()

        def wake() -> None:
            if not loop.is_closed():
                loop.call_soon_threadsafe(changed.set)

        unsubscribe = desk.subscribe(wake)
        pump = asyncio.create_task(_pump(socket, lambda: desk.message(role), changed))
        ears = asyncio.create_task(_listen(socket))
        try:
            await asyncio.wait({pump, ears}, return_when=asyncio.FIRST_COMPLETED)
        finally:
            unsubscribe()
            for task in (pump, ears):
                task.cancel()
            await asyncio.gather(pump, ears, return_exceptions=True)


async def _pump(socket: WebSocket, message: Callable[[], str], changed: asyncio.Event) -> None:
    """Send the newest version whenever there is one, and at least every `HEARTBEAT_S`.

    A slow client skips versions; nothing queues up for it.
    """
    while True:
        changed.clear()
        await asyncio.wait_for(socket.send_text(await asyncio.to_thread(message)), LONGEST_SEND_S)
        try:
            await asyncio.wait_for(changed.wait(), HEARTBEAT_S)
        except TimeoutError:
            continue


async def _listen(socket: WebSocket) -> None:
    """Wait for the client to go; what it says is of no interest."""
    try:
        while True:
            await socket.receive_text()
    except (WebSocketDisconnect, KeyError):  # gone, or it sent something that is not text
        return


async def _json_body(request: Request) -> Any:
    data, size = bytearray(), 0
    async for chunk in request.stream():
        size += len(chunk)
        if size > DRAINED_BYTES:
            break
        if size <= LARGEST_BODY_BYTES:
            data += chunk
    if size > LARGEST_BODY_BYTES:
        found = f"more than {LARGEST_BODY_BYTES} bytes"
        raise Refused(
            413, Problem("request", f"at most {LARGEST_BODY_BYTES} bytes", found, "Send it in parts.")
        )
    if not data.strip():
        raise Refused(
            400,
            Problem("request", "a JSON object or a list of them", "nothing", "Put the event in the body."),
        )
    try:
        body = orjson.loads(bytes(data))
    except orjson.JSONDecodeError as wrong:
        cure = "Send JSON in UTF-8; nothing of this request was recorded."
        raise Refused(400, Problem("request", "JSON", str(wrong), cure)) from None
    if not isinstance(body, dict | list):
        found = type(body).__name__
        raise Refused(
            400, Problem("request", "a JSON object or a list of them", found, "Put each event in braces.")
        )
    if body == []:
        raise Refused(
            400, Problem("request", "at least one event", "an empty list", "Put the events in the list.")
        )
    return body


def _openapi(router: APIRouter) -> dict[str, Any]:
    return get_openapi(
        title="Tetherline", version=program_version(), description=INTRODUCTION, routes=router.routes
    )


def _body(description: str, schema: dict[str, Any] | None = None) -> dict[str, Any]:
    fits = schema or {"anyOf": [{"type": "object"}, {"type": "array", "items": {"type": "object"}}]}
    return {
        "requestBody": {
            "required": True,
            "description": description,
            "content": {"application/json": {"schema": fits}},
        }
    }


async def _unknown_route(request: Request) -> Response:
    cure = "See /api/docs for what there is."
    found = f"{request.method} {request.url.path}"
    raise Refused(404, Problem("address", "a route of the interface", found, cure))


def _same_host(request: Request) -> None:
    """Refuse what another site's page sends: a browser names the page's site in `Origin`."""
    if not _origin_fits(request.headers.get("origin"), request.headers.get("host")):
        found = f"a page of {request.headers.get('origin')}"
        raise Refused(
            403,
            Problem("request", "a page of this server", found, "Open the board at this server's address."),
        )


def _origin_fits(origin: str | None, host: str | None) -> bool:
    return origin is None or (host is not None and origin in (f"http://{host}", f"https://{host}"))


def _add_handlers(server: FastAPI) -> None:
    @server.exception_handler(Refused)
    async def refused(_: Request, wrong: Refused) -> Response:
        return _problems_answer(wrong.status, *wrong.problems)

    @server.exception_handler(InputError)
    async def cannot(_: Request, wrong: InputError) -> Response:
        """The store cannot be written or read: nothing of the request was recorded."""
        return _problems_answer(503, *wrong.problems)

    @server.exception_handler(RequestValidationError)
    async def not_valid(_: Request, wrong: RequestValidationError) -> Response:
        return _problems_answer(422, *(_field_problem("request", error) for error in wrong.errors()))

    @server.exception_handler(Exception)
    async def unexpected(_: Request, wrong: Exception) -> Response:
        cure = "Nothing was lost; please report it."
        return _problems_answer(500, Problem("server", "an answer", f"{type(wrong).__name__}: {wrong}", cure))


def _problems_answer(status: int, *problems: Problem) -> Response:
    return JSONResponse({"problems": [problem.as_dict() for problem in problems]}, status)


def _field_problem(subject: str, error: Any) -> Problem:
    key = ".".join(str(part) for part in error["loc"] if part not in ("query", "body"))
    expected, _, found = complaint(error).removeprefix("expected ").partition("; found ")
    return Problem(f"{subject}, '{key}'", expected, found or repr(error.get("input")), "See /api/docs.")
