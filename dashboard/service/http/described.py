"""The shapes of answers, for the OpenAPI description; the routes write their answers themselves."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any, Literal

from fastapi.routing import APIRoute
from pydantic import BaseModel, ConfigDict

from dashboard.core.deferral.advice_model import Choice
from dashboard.service.session.clock import Mode

Answers = dict[int | str, dict[str, Any]]


class DescribedRoute(APIRoute):
    """A route whose answers become schemas only when someone asks for the description: making them takes long.

    Parameters
    ----------
    path, endpoint, **rest
        As FastAPI takes them.
    responses
        The answers, from `answer` and `problems`; None: nothing is said of them.
    """

    def __init__(
        self, path: str, endpoint: Callable[..., Any], *, responses: Answers | None = None, **rest: Any
    ) -> None:
        super().__init__(path, endpoint, **rest)
        self._with_answers = partial(APIRoute, path, endpoint, responses=responses, **rest)

    def with_answers(self) -> APIRoute:
        """Give the same route as FastAPI describes it, with its answers.

        Returns
        -------
        APIRoute
            For the description only.
        """
        return self._with_answers()


class Described(BaseModel):
    """Base of the shapes: an answer has these fields and no others."""

    model_config = ConfigDict(extra="forbid")


class OneProblem(Described):
    """What was expected and found, and what to do."""

    subject: str
    expected: str
    found: str
    cure: str
    where: str


class Problems(Described):
    """Why a request is refused."""

    problems: list[OneProblem]


class Did(Described):
    """What an entry did, in words, and the event that takes it back."""

    discrepancies: list[str]
    moved: list[str]
    withdraw: dict[str, Any]


class Outcome(Described):
    """What became of one event."""

    status: Literal[
        "recorded", "already recorded", "conflict", "unread", "quarantined", "in memory only", "refused"
    ]
    id: str | None
    seq: int | None
    why: str | None
    hint: str | None
    did: Did | None
    forbidden: bool = False


class Outcomes(Described):
    """What became of each event of a request, in their order."""

    outcomes: list[Outcome]


class LogRow(BaseModel):
    """A row of the log: an event as it was given, or `line` and `why` of what was not understood."""

    model_config = ConfigDict(extra="allow")

    cursor: int
    seq: int
    received: str


class Html(Described):
    """A part of the board."""

    html: str


class TakeBack(Described):
    """The events that take a decision back, and what they do."""

    events: list[dict[str, Any]]
    text: str


class ReplayPlace(Described):
    """Where the clock of a replay is."""

    version: int
    mode: Mode
    speed: float
    now: str
    pet_min: float


class Moment(Described):
    """How far the worse crew lane was ahead (positive) or behind at a PET; null: not known."""

    pet_min: float
    ahead_min: float | None


class Strip(Described):
    """What the strip of a replay shows; PET in minutes."""

    events: list[float]
    decisions: list[float]
    drift: list[Moment]
    worst: Moment | None
    html: str


class PresentedStep(Described):
    """The step of the brief that everyone who follows along sees; null: nobody presents."""

    step: int | None
    in_time: bool
    by: str
    revision: str


class WhatIf(Described):
    """The figures of a change, what goes along with it, and the rules of the plan that it breaks."""

    choice: Choice
    along: list[str]
    broken: list[str]
    closed: list[str]
    draws: int
    pet_min: float
    caution: str
    html: str


def problems(**why: str) -> Answers:
    """Describe the answers of a route that are problems.

    Parameters
    ----------
    **why
        The reason for each status: `e409="the sortie is live"`.

    Returns
    -------
    Answers
        By status, as FastAPI takes them.
    """
    return {int(status[1:]): {"model": Problems, "description": said} for status, said in why.items()}


def answer(model: Any, description: str) -> Answers:
    """Describe the answer of a route that went well.

    Parameters
    ----------
    model
        The shape of the answer: a type that pydantic knows.
    description
        What the answer is, in words.

    Returns
    -------
    Answers
        The status 200, as FastAPI takes it.
    """
    return {200: {"model": model, "description": description}}


NO_STATE = problems(e503="no state of now could be computed, the store cannot be read, or the answer took too long")
BODY = problems(
    e400="the body is no JSON, or neither an object nor a list", e403="the request comes from a page of another site",
    e413="the body is too large",
)  # fmt: skip
