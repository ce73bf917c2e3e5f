"""Answers to requests that fail. All have one shape: an HTTP status and a list of problems."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.requests import ClientDisconnect

from dashboard.core.base.problems import InputError, Problem
from dashboard.core.events.kinds import complaint

FORBIDDEN = 403
UNAVAILABLE, RETRY_AFTER_S = 503, 2  # what is not available now is often back by then
EVERY_METHOD = ["GET", "POST", "PUT", "PATCH", "DELETE"]


class Refused(Exception):
    """A request that cannot be answered.

    Parameters
    ----------
    status : int
        The HTTP status of the answer.
    *problems : Problem
        What is wrong; at least one.
    """

    def __init__(self, status: int, *problems: Problem) -> None:
        super().__init__(status)
        self.status = status
        self.problems = problems


def field_problem(subject: str, error: Any) -> Problem:
    """What is wrong with one field of a request.

    Parameters
    ----------
    subject
        What the request is, in words.
    error
        One error of pydantic, from `ValidationError.errors`.

    Returns
    -------
    Problem
        With the path of the field in its subject.
    """
    key = ".".join(str(part) for part in error["loc"] if part not in ("query", "body"))
    expected, _, found = complaint(error).removeprefix("expected ").partition("; found ")
    return Problem(f"{subject}, '{key}'", expected, found or repr(error.get("input")), "See /api/docs.")


def add_problem_answers(server: FastAPI, note: Callable[[Request, Problem], None]) -> None:
    """Answer every failure of a request with problems, and every unknown address under ``/api`` with 404.

    Parameters
    ----------
    server
        Gets the handlers and the routes.
    note
        Called with each request that is answered with 403, and its first problem.
    """
    server.add_api_route("/api", _unknown_route, methods=EVERY_METHOD)
    server.add_api_route("/api/{rest:path}", _unknown_route, methods=EVERY_METHOD)

    @server.exception_handler(Refused)
    async def refused(request: Request, wrong: Refused) -> Response:
        if wrong.status == FORBIDDEN:
            note(request, wrong.problems[0])
        return _answer(wrong.status, *wrong.problems)

    @server.exception_handler(InputError)
    async def cannot(_: Request, wrong: InputError) -> Response:
        """The store cannot be written or read: nothing of the request was recorded."""
        return _answer(503, *wrong.problems)

    @server.exception_handler(RequestValidationError)
    async def not_valid(_: Request, wrong: RequestValidationError) -> Response:
        return _answer(422, *(field_problem("request", error) for error in wrong.errors()))

    @server.exception_handler(ClientDisconnect)
    async def gone(_: Request, wrong: ClientDisconnect) -> Response:
        """The client left before its request was complete; nobody reads this answer."""
        return Response(status_code=400)

    @server.exception_handler(Exception)
    async def unexpected(_: Request, wrong: Exception) -> Response:
        cure = "Nothing was lost; please report it."
        return _answer(500, Problem("server", "an answer", f"{type(wrong).__name__}: {wrong}", cure))


async def _unknown_route(request: Request) -> Response:
    cure = "See /api/docs for the list of routes."
    found = f"{request.method} {request.url.path}"
    raise Refused(404, Problem("address", "a route of the interface", found, cure))


def _answer(status: int, *problems: Problem) -> Response:
    again = {"Retry-After": str(RETRY_AFTER_S)} if status == UNAVAILABLE else None
    return JSONResponse({"problems": [problem.as_dict() for problem in problems]}, status, again)
