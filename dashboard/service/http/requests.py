"""Reads requests: checks which site's page sent them, and parses the JSON of their body."""

from __future__ import annotations

from functools import cache
from typing import Any

import orjson
from fastapi import Request
from pydantic import BaseModel

from dashboard.core.base.problems import Problem
from dashboard.core.base.wording import kind_of_value, listed
from dashboard.service.http.problems import Refused

LARGEST_BODY_BYTES = 1_000_000
IN_PARTS = "Send it in parts."
DRAINED_BYTES = 20_000_000


async def known_parameters_only(request: Request) -> None:
    """Refuse a request to the interface with a parameter in its address that its route does not have.

    A parameter that is passed over would be taken for one that counts: `GET /api/state?at=2:00` is the state of now.

    Parameters
    ----------
    request
        With its route found.

    Raises
    ------
    Refused
        422 with the parameter, and with those that the route has.
    """
    known = [field.alias for field in request.scope["route"].dependant.query_params]
    unknown = next((name for name in request.query_params if name not in known), None)
    if unknown is not None:
        expected = f"the parameters {listed(known)}" if known else "no parameter"
        cure = "See /api/docs for the parameters of each route."
        raise Refused(422, Problem(f"address {request.url.path}", expected, f"'{unknown}'", cure))


@cache
def body_description(description: str, shape: type[BaseModel] | None = None) -> dict[str, Any]:
    """Description of the body of a route, for OpenAPI.

    Parameters
    ----------
    description
        What the body holds, in words.
    shape
        The model of the body; None: an event, or a list of events.

    Returns
    -------
    dict
        For `openapi_extra` of the route.
    """
    events = {"anyOf": [{"type": "object"}, {"type": "array", "items": {"type": "object"}}]}
    return {
        "requestBody": {
            "required": True,
            "description": description,
            "content": {"application/json": {"schema": events if shape is None else shape.model_json_schema()}},
        }
    }


def refuse_other_sites(request: Request) -> None:
    """Refuse a request of another site's page. A browser names the site of the page in the header `Origin`.

    Parameters
    ----------
    request
        The request.

    Raises
    ------
    Refused
        403 when the page belongs to another site.
    """
    if not origin_fits(request.headers.get("origin"), request.headers.get("host")):
        found = f"a page of {request.headers.get('origin')}"
        raise Refused(
            403,
            Problem("request", "a page of this server", found, "Open the board at this server's address."),
        )


def origin_fits(origin: str | None, host: str | None) -> bool:
    """Whether a request comes from a page of this server, or from no page at all.

    Parameters
    ----------
    origin
        Value of the header `Origin`; None: no browser page sent the request.
    host
        Value of the header `Host`; None: there is none.

    Returns
    -------
    bool
        False when the page belongs to another site.
    """
    return origin is None or (host is not None and origin in (f"http://{host}", f"https://{host}"))


async def json_body(
    request: Request, most_bytes: int = LARGEST_BODY_BYTES, cure: str = IN_PARTS
) -> dict[str, Any] | list[Any]:
    """The JSON body of a request.

    Parameters
    ----------
    request
        Its body is read to the end, up to `DRAINED_BYTES`. A longer one that is announced is not waited for.
    most_bytes
        The largest body that is taken, at most `DRAINED_BYTES`.
    cure
        What to do with a larger one.

    Returns
    -------
    dict or list
        The parsed object, or a list that is not empty.

    Raises
    ------
    Refused
        400 when the body is not JSON, is empty, or is neither an object nor a list; 413 when it exceeds
        `most_bytes`.
    """
    data, size = bytearray(), 0
    announced = request.headers.get("content-length", "")
    if announced.isdecimal() and int(announced[:20]) > DRAINED_BYTES:
        raise _too_large(most_bytes, cure)
    async for chunk in request.stream():
        size += len(chunk)
        if size > DRAINED_BYTES:
            break
        if size <= most_bytes:
            data += chunk
    if size > most_bytes:
        raise _too_large(most_bytes, cure)
    return _parsed(bytes(data))


def _too_large(most_bytes: int, cure: str) -> Refused:
    return Refused(413, Problem("request", f"at most {most_bytes} bytes", f"more than {most_bytes} bytes", cure))


def _parsed(data: bytes) -> dict[str, Any] | list[Any]:
    if not data.strip():
        raise Refused(
            400,
            Problem("request", "a JSON object or a list of them", "nothing", "Put the event in the body."),
        )
    try:
        body = orjson.loads(data)
    except orjson.JSONDecodeError as wrong:
        cure = "Send JSON in UTF-8; nothing of this request was recorded."
        raise Refused(400, Problem("request", "JSON", str(wrong), cure)) from None
    if not isinstance(body, dict | list):
        found = kind_of_value(body)
        raise Refused(
            400, Problem("request", "a JSON object or a list of them", found, "Put each event in braces.")
        )
    if body == []:
        raise Refused(
            400, Problem("request", "at least one event", "an empty list", "Put the events in the list.")
        )
    return body
