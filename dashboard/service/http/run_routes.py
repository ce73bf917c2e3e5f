"""Routes of a folder's plans and runs: the list, the brief of each plan, the debrief of each run, and two runs side by side."""

from __future__ import annotations

from collections.abc import Awaitable
from pathlib import Path

from fastapi import FastAPI
from fastapi.responses import HTMLResponse, PlainTextResponse, Response

from dashboard.markup import Markup
from dashboard.reports.html import waiting_html
from dashboard.service.answers.run_lists import NoSuchRun, RunLists
from dashboard.service.desk import Desk
from dashboard.service.http.runs_page import runs_html

PAGE = "/runs"
BOARD = ("/", "The board")


def add_run_routes(server: FastAPI, desk: Desk, folder: Path | None, waiting: Markup) -> None:
    """Add the routes of the runs to a server.

    Parameters
    ----------
    server
        Gets the routes under ``/runs``.
    desk
        Its process for reports does the work.
    folder
        With plans and recorded runs; None: the page says how to name one.
    waiting
        The elements that load the script of the page that is shown while the runs are read.
    """
    lists = RunLists(desk, folder) if folder is not None else None

    async def page() -> Response:
        if lists is None:
            return HTMLResponse(runs_html(None, ""))
        found = await lists.soon()
        if found is None:
            return HTMLResponse(waiting_html("Runs", "The runs are being read.", 0, 1, BOARD, waiting), 202)
        return HTMLResponse(runs_html(found, lists.name))

    async def brief(plan: str = "") -> Response:
        return await _page(lists.brief(plan) if lists and plan else None)

    async def debrief(run: str = "") -> Response:
        return await _page(lists.page(run, None) if lists and run else None)

    async def compare(first: str = "", second: str = "") -> Response:
        return await _page(lists.page(first, second) if lists and first else None)

    for path, route in ((PAGE, page), (f"{PAGE}/brief", brief), (f"{PAGE}/debrief", debrief), (f"{PAGE}/compare", compare)):
        server.add_api_route(path, route, methods=["GET"], include_in_schema=False)


async def _page(made: Awaitable[str] | None) -> Response:
    try:
        if made is None:
            raise NoSuchRun
        return HTMLResponse(await made)
    except NoSuchRun:
        said = "Expected the name of a plan or run of this server's folder; found another. The page /runs lists all.\n"
        return PlainTextResponse(said, 404)
