"""Describes the HTTP interface: JSON Schemas, the OpenAPI description, and the page made from it."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from fastapi.openapi.utils import get_openapi
from fastapi.responses import HTMLResponse, JSONResponse, Response

from dashboard.core.base.caution import CAUTION
from dashboard.service.http.described import DescribedRoute, answer, problems
from dashboard.service.http.docs_page import docs_html
from dashboard.service.schemas import SchemaOf, json_schema
from dashboard.service.version import program_version

INTRODUCTION = "This interface gives every number that a screen shows, and takes events. " + CAUTION


def add_description(router: APIRouter) -> None:
    """Add the routes that describe the interface.

    Parameters
    ----------
    router
        The router under ``/api``, of `DescribedRoute`. It is described as it is when the description is asked for.
    """

    @router.get(
        "/schema",
        summary="JSON Schema of the state, the events, the plan or the brief",
        responses={**answer(dict[str, Any], "JSON Schema"), **problems(e422="no such schema")},
    )
    async def schema(of: SchemaOf = "state") -> Response:
        """Names, types and meanings of the fields."""
        return JSONResponse(json_schema(of))

    @router.get("/openapi.json", include_in_schema=False)
    async def openapi() -> Response:
        return JSONResponse(_openapi(router))

    @router.get("/docs", include_in_schema=False)
    async def docs() -> Response:
        return HTMLResponse(docs_html(_openapi(router)))


def _openapi(router: APIRouter) -> dict[str, Any]:
    routes = [route.with_answers() for route in router.routes if isinstance(route, DescribedRoute)]
    return get_openapi(title="Tetherline", version=program_version(), description=INTRODUCTION, routes=routes)
