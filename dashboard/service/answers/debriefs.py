"""The debrief of a desk: the page, and its paper, tables and carry-over; made on request, off the event loop.

The page answers soon whatever the sortie: while the facts are worked out it says how far that is, asks again by itself,
and then shows the facts that it waited for, though the sortie has gone on meanwhile.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import NamedTuple

from fastapi import FastAPI
from fastapi.responses import HTMLResponse, PlainTextResponse, Response

from dashboard.core.base.times import instant_text
from dashboard.core.debrief.facts import Debrief
from dashboard.core.debrief.look_back import debrief
from dashboard.core.plan.model import Plan
from dashboard.core.state.model import SortieState
from dashboard.reports.html import waiting_html
from dashboard.service.desk import Desk
from dashboard.service.version import program_version
from dashboard.words import pet_named

PAGE = "/debrief"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
LINKS = (
    ("/", "The board"), (f"{PAGE}.pdf", "PDF"), (f"{PAGE}.xlsx", "Tables (XLSX)"),
    (f"{PAGE}/carry-over.toml", "Carry-over (plan file)"), (f"{PAGE}.json", "Facts (JSON)"),
)  # fmt: skip


PATIENCE_S = 0.5
STILL_WANTED = timedelta(seconds=10)
_SAID = {"decisions": "the decisions", "projections": "the sortie, every quarter of an hour"}


class Made(NamedTuple):
    """The facts, of which state of the desk, and when they were made."""

    key: tuple[int, int, str]
    facts: Debrief
    made_at: datetime


class Debriefs:
    """Makes the facts of a desk once a minute of the sortie and a change of the log, one at a time."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._one_at_a_time = asyncio.Lock()
        self._kept: Made | None = None
        self._awaited: asyncio.Task[Made] | None = None
        self._progress = ("", 0, 1)

    async def answer(self, write: Callable[[Made, Plan], Response]) -> Response:
        """What `write` makes of the newest facts; 503 when no state of now could be computed."""
        snapshot = await asyncio.to_thread(self._desk.current)
        if snapshot.state is None or snapshot.trouble is not None:
            return PlainTextResponse(f"No debrief: {snapshot.trouble or 'no state yet'} The events are safe.\n", 503)
        made = await (self._soon(snapshot.state) if write is _page else self._make(snapshot.state))
        if made is None:
            return self._waiting()
        return await asyncio.to_thread(write, made, self._desk.plan)

    async def _make(self, state: SortieState) -> Made:
        async with self._one_at_a_time:
            return await asyncio.to_thread(self._facts, state)

    async def _soon(self, state: SortieState) -> Made | None:
        """The facts that a page waits for, or else the newest; None while they are being made."""
        waited_for = self._awaited
        if waited_for is not None and waited_for.done() and not _still_wanted(waited_for):
            waited_for = None
        task = self._awaited = waited_for or asyncio.create_task(self._make(state))
        done, _ = await asyncio.wait({task}, timeout=PATIENCE_S)
        if not done:
            return None
        if self._awaited is task:
            self._awaited = None
        return task.result()

    def _waiting(self) -> Response:
        what, done, of = self._progress
        far = f" Following {_SAID[what]}: {done} of {of}." if what else ""
        return HTMLResponse(waiting_html("Debrief", f"The debrief is being worked out.{far}", done, of, LINKS[0]), 202)

    def _tell(self, what: str, done: int, of: int) -> None:
        self._progress = (what, done, of)

    def _facts(self, state: SortieState) -> Made:
        key = (state.basis.events, int(state.pet_min // 1), f"{state.mode} {len(state.unread)}")
        if self._kept is None or self._kept.key != key:
            known = self._desk.feed.read(state.now)
            self._progress = ("", 0, 1)
            facts = debrief(
                self._desk.plan, known.events, state.now, unread=known.unread, rehearsal=self._desk.feed.rehearsal,
                progress=self._tell,
            )
            self._kept = Made(key, facts, datetime.now(UTC))
        return self._kept


def _still_wanted(task: asyncio.Task[Made]) -> bool:
    """Whether finished work is new enough for the page that waits for it; one that gave up takes nobody back."""
    if task.cancelled() or task.exception() is not None:
        return False
    return datetime.now(UTC) - task.result().made_at < STILL_WANTED


def add_debrief(server: FastAPI, desk: Desk) -> None:
    """The routes of the debrief."""
    debriefs = Debriefs(desk)
    for path, write in _WRITERS.items():
        server.add_api_route(path, _route(debriefs, write), methods=["GET"], include_in_schema=False)


def _route(debriefs: Debriefs, write: Callable[[Made, Plan], Response]) -> Callable[[], object]:
    async def route() -> Response:
        return await debriefs.answer(write)

    return route


def _page(made: Made, plan: Plan) -> Response:
    from dashboard.reports.debrief_document import debrief_document
    from dashboard.reports.html import html

    links = [link for link in LINKS if made.facts.carry_over or not link[0].endswith(".toml")]
    return HTMLResponse(html(debrief_document(made.facts, made.made_at, program_version()), links))


def _paper(made: Made, plan: Plan) -> Response:
    from dashboard.reports.debrief_document import debrief_document
    from dashboard.reports.pdf import pdf

    document = debrief_document(made.facts, made.made_at, program_version())
    return _file(pdf(document), "application/pdf", made, "pdf")


def _book(made: Made, plan: Plan) -> Response:
    from dashboard.reports.tables import xlsx

    return _file(xlsx(made.facts, made.made_at, program_version()), XLSX, made, "xlsx")


def _carry_over(made: Made, plan: Plan) -> Response:
    from dashboard.reports.carry_over import carry_over_toml

    left = carry_over_toml(made.facts, plan)
    if left is None:
        said = f"Nothing is left of sortie {made.facts.sortie} as of {pet_named(made.facts.pet_min)}.\n"
        return PlainTextResponse(said, 404)
    return _file(left[0].encode(), "application/toml", made, "carry-over.toml")


def _json(made: Made, plan: Plan) -> Response:
    return Response(made.facts.model_dump_json(), media_type="application/json")


def _file(content: bytes, kind: str, made: Made, ending: str) -> Response:
    """A download, named after the sortie and the instant it is of."""
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "-_.") else "-" for c in made.facts.sortie)
    instant = instant_text(made.facts.now.replace(microsecond=0)).replace(":", "")
    head = {"Content-Disposition": f'attachment; filename="debrief-{plain}-{instant}.{ending}"'}
    return Response(content, media_type=kind, headers=head)


_WRITERS: dict[str, Callable[[Made, Plan], Response]] = {
    PAGE: _page, f"{PAGE}.pdf": _paper, f"{PAGE}.xlsx": _book, f"{PAGE}/carry-over.toml": _carry_over, f"{PAGE}.json": _json,
}  # fmt: skip
