"""Routes of the log: reading events, sending events, and a backup."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import orjson
from fastapi import APIRouter, Query, Request
from fastapi.responses import JSONResponse, Response

from dashboard.core.base.problems import Problem
from dashboard.service.desk import Desk
from dashboard.service.http.described import BODY, LogRow, Outcomes, Problems, answer, problems
from dashboard.service.http.problems import Refused
from dashboard.service.http.requests import body_description, json_body, refuse_other_sites
from dashboard.service.http.visitors import Visitors
from dashboard.service.outcomes import TAKEN

MOST_AT_ONCE = 32
JSON_LINES = "application/jsonl"
ALL_REFUSED = (
    "every event was refused: it needs another key, or would change the time before a rehearsal; or the server only shows, or "
    "the request comes from a page of another site"
)


def add_event_routes(router: APIRouter, desk: Desk, visitors: Visitors) -> None:
    """Add the routes of the log.

    Parameters
    ----------
    router
        The router under ``/api``.
    desk
        The sortie whose log it is.
    visitors
        Finds out who sends a request, and records refusals.
    """
    entering = ThreadPoolExecutor(MOST_AT_ONCE, "entry")  # threads of their own: entering must not hold up reading

    @router.get(
        "/events",
        summary="The events of the log",
        responses={
            **answer(list[LogRow], "list of events in order of `cursor`"),
            **problems(e422="`after` is no number from 0 up", e503="the store cannot be read"),
        },
    )
    async def events(
        after: int = Query(
            default=0, ge=0, description="only rows with a `cursor` above this; give the `cursor` of your last row"
        ),
    ) -> Response:
        """Every event as it came in, with `seq`, `received` and `cursor`.

        To follow the log, ask again with `after` set to the `cursor` of the last row. `cursor` counts in the order in which
        this server received the rows, so no row is missed. On a live server it equals `seq`. In a replay it does not, since
        an event that a viewer enters may have a higher `seq` than recorded events still to come. When the clock of a replay
        goes back, rows that are received again are sent again with a new `cursor`; recognise them by their `id`.

        A line that was not understood is sent as `line` and `why`.
        """
        rows = await asyncio.to_thread(desk.rows_after, after)
        return Response(orjson.dumps(rows), media_type="application/json")

    @router.get(
        "/backup",
        summary="A backup of the log",
        responses={
            200: {"description": "JSON Lines, as `tetherline restore` reads them", "content": {JSON_LINES: {}}},
            **problems(e409="a replay keeps no log", e503="the store cannot be read"),
        },
    )
    async def backup() -> Response:
        """Every row as it came, with `seq` and `received`, and the number of rows and their SHA-256.

        Rows that are only in memory, since the store was lost, are included.
        """
        text = await asyncio.to_thread(desk.session.backup_text)
        if text is None:
            raise Refused(409, Problem("backup", "a live sortie", "a replay, which keeps no log", "Name a live server."))
        return Response(text, media_type=JSON_LINES)

    @router.post(
        "/events",
        summary="Send one event or a list of events",
        responses={
            **answer(Outcomes, '`{"outcomes": [{status, id, seq, why, hint, did}]}`'),
            **BODY,
            207: {"model": Outcomes, "description": "some events were not taken"},
            403: {"model": Outcomes | Problems, "description": ALL_REFUSED},
            422: {"model": Outcomes, "description": "no event was taken"},
            **problems(
                e429="too many wrong keys came from this address",
                e503="nothing was recorded, or `cure` says that this is not known",
            ),
        },
        openapi_extra=body_description(
            "one event, or a list of events, as `GET /api/schema?of=events` says; "
            "a missing `id` gets a new one, a missing `at` is now, and an `at` such as \"0:48\" is a PET"
        ),
    )
    async def send(request: Request) -> Response:
        """Takes events. Each event is on disk before it is acknowledged. The same event sent twice is recorded once.

        If the server has keys, send yours as `Authorization: Bearer KEY`, or sign in at `/sign-in`. If the key belongs to a
        person, the name is recorded as `by` when that is missing, and as `entered_by` when `by` names somebody else.
        Decisions need the lead key, other events the log key, and a correction the key that its event needs. An event
        without the needed key is answered with `refused` and `forbidden`. One that was `refused` without `forbidden` can be sent
        again once it is corrected, as `why` says.
        A `hint` says what looks odd about an event that was taken. `did` says what the event did: its `discrepancies`, what
        it `moved` (end, chance, limit, advice, lanes; for several events, given with the last one), and `withdraw`, the event
        to send to take it back. An event that breaks the computation of the state is answered with `quarantined`: it is kept
        as it came, and does not count. `in memory only` means that the server lost its store: the event counts but is not on
        disk. Send it again until it is recorded. Status 503: nothing was recorded, or `cure` says that this is not known.
        """
        refuse_other_sites(request)
        if not desk.may_log:
            cure = "Send it to the server that keeps the log."
            raise Refused(403, Problem("event", "a server that takes events", "a server that only shows", cure))
        body = await json_body(request)
        items = body if isinstance(body, list) else [body]
        visitor = await visitors.visitor(request)
        outcomes = await asyncio.get_running_loop().run_in_executor(entering, desk.record, items, visitor)
        visitors.refused_events(request, visitor, items, outcomes)
        return JSONResponse({"outcomes": outcomes}, _status(outcomes))


def _status(outcomes: list[dict[str, Any]]) -> int:
    """200: every event was taken; 207: some were; 403: the sender may enter none of them; 422: none was taken."""
    taken = sum(outcome["status"] in TAKEN for outcome in outcomes)
    if taken:
        return 200 if taken == len(outcomes) else 207
    return 403 if all(outcome.get("forbidden", False) for outcome in outcomes) else 422
