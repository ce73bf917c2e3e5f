"""The debrief of a desk: the page, and its paper, tables and carry-over; made on request, off the event loop."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from datetime import UTC, datetime
from typing import NamedTuple

from fastapi import FastAPI
from fastapi.responses import HTMLResponse, PlainTextResponse, Response

from dashboard.core.debrief import debrief
from dashboard.core.debrief_facts import Debrief
from dashboard.core.plan import Plan
from dashboard.core.sortie_state import SortieState
from dashboard.core.times import instant_text
from dashboard.service.desk import Desk
from dashboard.service.version import program_version
from dashboard.words import pet_named

PAGE = "/debrief"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
LINKS = (
    ("/", "The board"), (f"{PAGE}.pdf", "PDF"), (f"{PAGE}.xlsx", "Tables (XLSX)"),
    (f"{PAGE}/carry-over.toml", "Carry-over (plan file)"), (f"{PAGE}.json", "Facts (JSON)"),
)  # fmt: skip


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

    async def answer(self, write: Callable[[Made, Plan], Response]) -> Response:
        """What `write` makes of the newest facts; 503 when no state of now could be computed."""
        snapshot = await asyncio.to_thread(self._desk.current)
        if snapshot.state is None or snapshot.trouble is not None:
            return PlainTextResponse(f"No debrief: {snapshot.trouble or 'no state yet'} The events are safe.\n", 503)
        async with self._one_at_a_time:
            made = await asyncio.to_thread(self._facts, snapshot.state)
            return await asyncio.to_thread(write, made, self._desk.plan)

    def _facts(self, state: SortieState) -> Made:
        key = (state.basis.events, int(state.pet_min // 1), f"{state.mode} {len(state.unread)}")
        if self._kept is None or self._kept.key != key:
            known = self._desk.feed.read(state.now)
            facts = debrief(self._desk.plan, known.events, state.now, unread=known.unread)
            self._kept = Made(key, facts, datetime.now(UTC))
        return self._kept


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
