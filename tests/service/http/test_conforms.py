"""The interface does what its own description says: requests made from it, by Schemathesis, get no other answers."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis import GenerationMode
from schemathesis.config import SchemathesisConfig
from schemathesis.specs.openapi.checks import positive_data_acceptance

from dashboard.log.store import EventStore
from dashboard.service.desk import Desk
from dashboard.service.http.api import make_api
from dashboard.service.session.live import LiveSession
from dashboard.service.session.replay import ReplaySession
from replay.recording import recorded
from tests.attack.sortie import NOW_PET_MIN, PLAN, log
from tests.scenario import log_of, plan_of
from tests.service.conftest import StandingClock

EXAMPLES = 10  # in each mode for each route; a route without parameters has one
REFUSED = ["400", "403", "404", "405", "409", "413", "415", "422"]  # Schemathesis leaves out 413: what is wrong may also be large
ROUTES = {  # and the answers that the requests must bring about: else they would show nothing
    "GET /api/state": {200}, "GET /api/why": {200}, "GET /api/take-back": {404, 422}, "GET /api/plan": {200},
    "GET /api/events": {200, 422}, "POST /api/events": {400, 422}, "GET /api/backup": {200, 409},
    "POST /api/replay": {409, 422}, "GET /api/replay/strip": {200, 409}, "POST /api/what-if": {200, 422},
    "GET /api/schema": {200, 422}, "GET /api/plan-file": {200}, "POST /api/plan-file/check": {200, 422},
    "POST /api/plan-file": {403}, "POST /api/plan-file/text": {403}, "POST /api/plan-file/text/check": {200, 422},
    "GET /api/brief/step": {200}, "POST /api/brief/step": {200, 422},
}  # fmt: skip


def live_desk() -> Desk:
    plan = plan_of(PLAN)
    desk = Desk(LiveSession(plan, EventStore("sqlite://", plan.sortie.id), StandingClock(NOW_PET_MIN)))
    desk.record(log())
    return desk


def replay_desk() -> Desk:
    run = recorded(plan_of(PLAN), log_of("0:00 clock\n0:01 start T010\n0:24 done T010\n0:55 decision text=Cut defer=T090"))
    return Desk(ReplaySession(run, playing=False))


@pytest.fixture(scope="module")
def schemas() -> list[Any]:
    """The description, as a live server and one that replays serve it."""
    config = SchemathesisConfig.from_dict({"checks": {"negative_data_rejection": {"expected-statuses": REFUSED}}})
    return [
        schemathesis.openapi.from_asgi("/api/openapi.json", make_api(desk()), config=config) for desk in (live_desk, replay_desk)
    ]


def test_every_route_is_tried(schemas: list[Any]):
    """A route that is described stands in the table."""
    for schema in schemas:
        assert {found.ok().label for found in schema.get_all_operations()} == set(ROUTES)


@pytest.mark.parametrize("route", ROUTES)
def test_answers_are_as_described(schemas: list[Any], route: str):
    """No failure of the server; status, media type and content as the description has them; what is wrong is refused.

    That what fits the description is accepted is not asserted: not every text is an instant, and any JSON object may be sent as
    an event. One that is not understood is kept, and answered with 422.
    """
    method, path = route.split()
    seen: Counter[int] = Counter()
    for schema in schemas:
        operation = schema[path][method]
        _try(operation, GenerationMode.POSITIVE, seen)
        if operation.definition.raw.keys() & {"parameters", "requestBody"}:  # else nothing can be wrong with a request
            _try(operation, GenerationMode.NEGATIVE, seen)
    assert set(seen) >= ROUTES[route], seen


def _try(operation: Any, mode: GenerationMode, seen: Counter[int]) -> None:
    @settings(
        max_examples=EXAMPLES, derandomize=True, deadline=None, database=None, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(case=operation.as_strategy(generation_mode=mode))
    def conforms(case: Any) -> None:
        seen[case.call_and_validate(excluded_checks=[positive_data_acceptance]).status_code] += 1

    conforms()
