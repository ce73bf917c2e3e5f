"""Answers to addresses outside the HTTP interface that nothing stands behind.

Dash would answer each unknown address with the page of the board, and junk sent to the address of its callbacks with 500. No
page of this program has a callback on the server.
"""

from __future__ import annotations

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from dashboard.service.http.problems import EVERY_METHOD

CALLBACKS = "_dash-update-component"


def refuse_callbacks(server: FastAPI, page: str) -> None:
    """Answer what is sent to the callbacks of a page with 404. Called before Dash adds its own routes for the page.

    Parameters
    ----------
    server
        Gets the route.
    page
        The address of the page, with a slash at its end.
    """
    server.add_api_route(page + CALLBACKS, _nothing_there, methods=EVERY_METHOD, include_in_schema=False)


def add_unknown_pages(server: FastAPI) -> None:
    """Answer every address that has no route with 404. Called when all routes but these are there.

    Parameters
    ----------
    server
        Gets the route.
    """
    server.add_api_route("/{rest:path}", _nothing_there, methods=EVERY_METHOD, include_in_schema=False)


async def _nothing_there(request: Request) -> Response:
    """Say so, and where to go."""
    return PlainTextResponse(f"There is nothing at {request.url.path}. The board is at /.\n", 404)
