"""Routes of the plan file: reading it as rows, checking edited rows, and saving them."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel, ValidationError

from dashboard.core.base.problems import InputError, Problem
from dashboard.service.access.roles import HOW, may
from dashboard.service.answers.plan_file import PlanFile
from dashboard.service.http.described import BODY, answer, problems
from dashboard.service.http.plan_file_shapes import (
    Edited,
    EditedText,
    PlanChecked,
    PlanConflict,
    PlanFileNow,
    PlanSaved,
    PlanTextChecked,
    PlanTextConflict,
    TextToSave,
    ToSave,
)
from dashboard.service.http.problems import Refused, field_problem
from dashboard.service.http.requests import body_description, json_body, refuse_other_sites
from dashboard.service.http.visitors import Visitors

SUBJECT = "edited plan"
LARGEST_PLAN_BYTES = 10_000_000  # some 5,000 tasks, as they were and as edited
NOT_READ = problems(e503="the plan file cannot be read")


def add_plan_file_routes(router: APIRouter, plan_file: PlanFile, visitors: Visitors) -> None:
    """Add the routes of the plan file.

    Parameters
    ----------
    router
        The router under ``/api``.
    plan_file
        The file.
    visitors
        Finds out who sends a request, and records refusals.
    """
    one_at_a_time = asyncio.Lock()  # a check takes a tenth of a second of a processor that the board needs too

    async def _refuse_others(request: Request) -> None:
        """Refuse whoever may not save now."""
        visitor = await visitors.visitor(request)
        why_not = await asyncio.to_thread(plan_file.why_not, visitor)
        if why_not:
            found = f"your role is {visitor.role}" if not may(visitor.role, "lead") else "a plan file that is not changed now"
            cure = f"{HOW[:1].upper()}{HOW[1:]}." if not may(visitor.role, "lead") else why_not
            raise Refused(403, Problem("plan file", "someone who may save, before PET zero", found, cure))

    async def _checked(request: Request, shape: type[BaseModel], check: Callable[..., dict[str, Any]]) -> Response:
        """The answer of a check of what was edited."""
        refuse_other_sites(request)
        edited = await _read(request, shape)
        async with one_at_a_time:
            return JSONResponse(await asyncio.to_thread(check, **edited))

    async def _saved(request: Request, shape: type[BaseModel], save: Callable[..., dict[str, Any]]) -> Response:
        """The answer to saving what was edited: it is saved, or the file was changed meanwhile."""
        refuse_other_sites(request)
        await _refuse_others(request)
        edited = await _read(request, shape)
        try:
            made = await asyncio.to_thread(save, **edited)
        except InputError as wrong:
            raise Refused(422, *wrong.problems) from None
        return JSONResponse(made, 200 if "said" in made else 409)

    @router.get("/plan-file", summary="The plan file as rows", responses={**answer(PlanFileNow, "PlanFileNow"), **NOT_READ})
    async def read(request: Request) -> Response:
        """The tasks of the file as it is now, in the columns and texts of a task sheet, and whether you may save."""
        visitor = await visitors.visitor(request)
        return JSONResponse(await asyncio.to_thread(plan_file.content, visitor))

    @router.post(
        "/plan-file/check",
        summary="Check edited rows of the plan",
        responses={**answer(PlanChecked, "PlanChecked"), **BODY, **problems(e422="the request is wrong"), **NOT_READ},
        openapi_extra=body_description("the tasks as edited, and as the editing started", Edited),
    )
    async def check(request: Request) -> Response:
        """The findings of `tetherline check`, the lane sheet at plan pace, and what was changed, in words. Saves nothing."""
        return await _checked(request, Edited, plan_file.check)

    @router.post(
        "/plan-file",
        summary="Save edited rows in the plan file",
        responses=_of_saving(PlanConflict),
        openapi_extra=body_description("the tasks, and the digest of the file they started from", ToSave),
    )
    async def save(request: Request) -> Response:
        """Writes the tasks and keeps the comments of the file.

        The sortie that runs does not change: a saved plan counts from the next start of the server. Once PET zero is recorded,
        saving is refused. When `digest` is not that of the file, nothing is written; the answer holds both differences, and the
        rows of both put together.
        """
        return await _saved(request, ToSave, plan_file.save)

    @router.post(
        "/plan-file/text/check",
        summary="Check an edited text of the whole plan file",
        responses={**answer(PlanTextChecked, "PlanTextChecked"), **BODY, **problems(e422="the request is wrong")},
        openapi_extra=body_description("the text as edited, and as the editing started", EditedText),
    )
    async def check_text(request: Request) -> Response:
        """The findings of `tetherline check`, each with its line. Saves nothing."""
        return await _checked(request, EditedText, plan_file.check_text)

    @router.post(
        "/plan-file/text",
        summary="Save an edited text as the plan file",
        responses=_of_saving(PlanTextConflict),
        openapi_extra=body_description("the text, and the text and digest that it started from", TextToSave),
    )
    async def save_text(request: Request) -> Response:
        """Writes the text as it is, with all tables and comments. The rules are those of saving rows."""
        return await _saved(request, TextToSave, plan_file.save_text)


def _of_saving(conflict: type[BaseModel]) -> dict[int | str, dict[str, Any]]:
    """The answers to saving."""
    return {
        **answer(PlanSaved, "PlanSaved"), **BODY,
        409: {"model": conflict, "description": "the file was changed meanwhile; nothing was written"},
        **problems(
            e403="this needs the lead key, the file may not be changed now, or the request comes from a page of another site",
            e422="what was sent makes no plan, or the file cannot be changed; nothing was written", e429="too many wrong keys",
        ),
        **NOT_READ,
    }  # fmt: skip


async def _read(request: Request, shape: type[BaseModel]) -> dict[str, Any]:
    cure = "Edit the plan file itself, and check it with `tetherline check`."
    body = await json_body(request, LARGEST_PLAN_BYTES, cure)
    try:
        return shape.model_validate(body).model_dump()
    except ValidationError as wrong:
        raise Refused(422, *(field_problem(SUBJECT, error) for error in wrong.errors())) from None
