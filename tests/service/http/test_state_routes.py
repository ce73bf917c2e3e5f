"""Reading from the HTTP interface: state, plan, schema, description, and what is not there."""

import re

import pytest

from dashboard.core.plan.model import Plan
from dashboard.core.state.model import SortieState
from dashboard.service.desk import Desk
from tests.service.conftest import Room, event, message


def test_the_state_is_the_published_state(room: Room):
    """It validates against the model whose schema is published."""
    room.send(event("clock", 0))
    state = SortieState.model_validate(room.state())
    assert (state.sortie, state.mode) == ("t", "live")


def test_the_plan_comes_back_as_it_was_loaded(room: Room, plan: Plan):
    """What is served can be loaded again and is the same plan."""
    assert Plan.model_validate(room.http.get("/api/plan").json()) == plan


@pytest.mark.parametrize(("of", "names"), [("state", "lanes"), ("plan", "sortie")])
def test_the_schemas_are_served(room: Room, of: str, names: str):
    """JSON Schema with the fields of the thing."""
    assert names in room.http.get("/api/schema", params={"of": of}).json()["properties"]


def test_the_schema_of_an_event_knows_every_kind(room: Room):
    """One branch a kind."""
    schema = room.http.get("/api/schema", params={"of": "events"}).json()
    assert {"clock", "start", "done", "amend", "withdraw"} <= set(schema["discriminator"]["mapping"])


def test_the_description_names_every_route(room: Room):
    """The OpenAPI description and its page list what there is."""
    paths = room.http.get("/api/openapi.json").json()["paths"]
    assert set(paths) == {
        "/api/state", "/api/events", "/api/plan", "/api/schema", "/api/replay", "/api/replay/strip", "/api/take-back",
        "/api/what-if", "/api/why",
    }  # fmt: skip
    page = room.http.get("/api/docs").text
    assert all(path in page for path in paths)


def test_the_description_page_loads_nothing_from_elsewhere(room: Room):
    """No script, and no address of another host."""
    page = room.http.get("/api/docs").text
    assert "<script" not in page
    assert re.findall(r"""(?:src|href)=["'](?!/)""", page) == []


def test_the_description_says_that_it_is_advisory(room: Room):
    """Wherever numbers are offered, so is the caution."""
    assert "Not certified for flight use" in room.http.get("/api/docs").text


@pytest.mark.parametrize("method", ["GET", "POST", "PUT", "DELETE"])
@pytest.mark.parametrize("path", ["/api", "/api/", "/api/nope", "/api/state/T010", "/api/events/x/y"])
def test_an_unknown_address_is_404_with_a_problem(room: Room, method: str, path: str):
    """Never the page of the board."""
    answer = room.http.request(method, path)
    assert answer.status_code == 404
    assert answer.json()["problems"][0]["found"] == f"{method} {path}"


def test_the_replay_cannot_be_controlled_when_live(room: Room):
    """409, and the clock of the sortie is left alone."""
    answer = room.http.post("/api/replay", json={"action": "pause"})
    assert answer.status_code == 409
    assert answer.json()["problems"][0]["found"] == "a live sortie"


def test_a_state_that_could_not_be_computed_is_not_passed_off_as_now(room: Room, desk: Desk, monkeypatch):
    """503 with the reason, where the screens say the same in words."""

    def broken(now):
        raise ValueError("a gap in the rail")

    monkeypatch.setattr(desk.feed, "read", broken)
    desk.ask()
    answer = room.http.get("/api/state")
    assert answer.status_code == 503
    assert "a gap in the rail" in answer.json()["problems"][0]["found"]
    with room.live() as client:
        assert "a gap in the rail" in message(client)["trouble"]
