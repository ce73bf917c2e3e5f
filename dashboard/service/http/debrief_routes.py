"""Routes of the debrief: the page, the PDF, the tables, the carry-over and the facts.

The page answers soon. While the facts are computed it shows the progress and loads itself again.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from fastapi import FastAPI
from fastapi.responses import HTMLResponse, PlainTextResponse, Response

from dashboard.core.base.times import instant_text
from dashboard.markup import Markup
from dashboard.reports.html import waiting_html
from dashboard.service.answers.debriefs import Debriefs, Made, Progress, book, paper
from dashboard.service.desk import Desk
from dashboard.service.version import program_version
from dashboard.words import pet_named

PAGE = "/debrief"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
LINKS = (
    ("/", "The board"), (f"{PAGE}.pdf", "PDF"), (f"{PAGE}.xlsx", "Tables (XLSX)"),
    (f"{PAGE}/carry-over.toml", "Carry-over (plan file)"), (f"{PAGE}.json", "Facts (JSON)"), ("/runs", "Plans and runs"),
)  # fmt: skip
_FOLLOWED = {
    "decisions": "the decisions", "calls": "the calls to the room", "projections": "the sortie, every quarter of an hour",
}  # fmt: skip

Writer = Callable[[Made, Desk], Response]


def add_debrief_routes(server: FastAPI, desk: Desk, waiting: Markup) -> None:
    """Add the routes of the debrief to a server.

    Parameters
    ----------
    server
        Gets the routes under ``/debrief``.
    desk
        The sortie that is looked back at.
    waiting
        The elements that load the script of the page that is shown while the debrief is made.
    """
    debriefs = Debriefs(desk)
    for path, write in _WRITERS.items():
        server.add_api_route(path, _route(desk, debriefs, write, waiting), methods=["GET"], include_in_schema=False)


def _route(desk: Desk, debriefs: Debriefs, write: Writer, waiting: Markup) -> Callable[[], object]:
    async def route() -> Response:
        snapshot = await asyncio.to_thread(desk.current)
        if snapshot.state is None or snapshot.trouble is not None:
            return PlainTextResponse(f"No debrief: {snapshot.trouble or 'no state yet'} The events are safe.\n", 503)
        made = await (debriefs.soon if write is _page else debriefs.newest)(snapshot.state)
        return _waiting(debriefs.progress, waiting) if made is None else await asyncio.to_thread(write, made, desk)

    return route


def _waiting(progress: Progress, modules: Markup) -> Response:
    far = f" Following {_FOLLOWED[progress.what]}: {progress.done} of {progress.of}." if progress.what else ""
    said = f"The debrief is being computed.{far}"
    return HTMLResponse(waiting_html("Debrief", said, progress.done, progress.of, LINKS[0], modules), 202)


def _page(made: Made, desk: Desk) -> Response:
    from dashboard.reports.debrief_document import debrief_document
    from dashboard.reports.html import html

    links = [link for link in LINKS if made.facts.carry_over or not link[0].endswith(".toml")]
    return HTMLResponse(html(debrief_document(made.facts, made.made_at, program_version()), links))


def _paper(made: Made, desk: Desk) -> Response:
    return _file(paper(desk, made), "application/pdf", made, "pdf")


def _book(made: Made, desk: Desk) -> Response:
    return _file(book(desk, made), XLSX, made, "xlsx")


def _carry_over(made: Made, desk: Desk) -> Response:
    from dashboard.reports.carry_over import carry_over_toml

    left = carry_over_toml(made.facts, desk.plan)
    if left is None:
        said = f"Nothing is left of sortie {made.facts.sortie} as of {pet_named(made.facts.pet_min)}.\n"
        return PlainTextResponse(said, 404)
    return _file(left[0].encode(), "application/toml", made, "carry-over.toml")


def _json(made: Made, desk: Desk) -> Response:
    return Response(made.facts.model_dump_json(), media_type="application/json")


def _file(content: bytes, kind: str, made: Made, ending: str) -> Response:
    """A download, named after the sortie and the instant of its facts."""
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "-_.") else "-" for c in made.facts.sortie)
    instant = instant_text(made.facts.now.replace(microsecond=0)).replace(":", "")
    head = {"Content-Disposition": f'attachment; filename="debrief-{plain}-{instant}.{ending}"'}
    return Response(content, media_type=kind, headers=head)


_WRITERS: dict[str, Writer] = {
    PAGE: _page, f"{PAGE}.pdf": _paper, f"{PAGE}.xlsx": _book, f"{PAGE}/carry-over.toml": _carry_over, f"{PAGE}.json": _json,
}  # fmt: skip
