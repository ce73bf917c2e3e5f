"""Reading the sortie: state and plan."""

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


def test_a_state_that_could_not_be_computed_is_not_passed_off_as_now(room: Room, desk: Desk, monkeypatch):
    """503 with the reason, where the screens say the same in words."""

    def broken(now):
        raise ValueError("a gap in the rail")

    monkeypatch.setattr(desk.session, "known_at", broken)
    desk.ask()
    answer = room.http.get("/api/state")
    assert answer.status_code == 503
    assert "a gap in the rail" in answer.json()["problems"][0]["found"]
    with room.live() as client:
        assert "a gap in the rail" in message(client)["trouble"]


def test_a_parameter_that_the_route_does_not_have_is_refused(room: Room):
    """The state of now is not passed off as that of another moment; a parameter that a route has still counts."""
    answer = room.http.get("/api/state", params={"at": "2:00"})
    assert (answer.status_code, answer.json()["problems"][0]["found"]) == (422, "'at'")
    assert room.http.get("/api/events", params={"after": 0}).status_code == 200
    assert room.http.get("/api/events", params={"afetr": 0}).json()["problems"][0]["expected"] == "the parameters after"
