"""`GET /api/take-back`: what takes a decision back, and nothing sent."""

from __future__ import annotations

from dashboard.core.base.times import instant_text
from tests.service.conftest import Room, StandingClock, at_pet, event

CHOSEN = {"move": {}, "choose": {}, "break_off": []}


def test_its_events_reverse_the_decision(room: Room, clock: StandingClock):
    """In words and as events with a note; sent, the task is back, and nothing is left to take back."""
    clock.instant = at_pet(12)
    room.send(event("clock", 0), event("decision", 5, id="d", text="Late", defer=["T030"], chosen=CHOSEN))
    rows = len(room.http.get("/api/events").json())
    said = room.http.get("/api/take-back", params={"decision": "d"}).json()
    assert said["text"] == "Take back the decision of PET 0:05: reinstate T030 Prepare tray."
    assert [one["note"] for one in said["events"]] == ["takes back the decision of PET 0:05"]
    assert len(room.http.get("/api/events").json()) == rows
    for one in said["events"]:
        room.send({**one, "at": instant_text(clock.instant), "by": "lead"})
    assert room.state()["tasks"]["T030"]["state"] == "not started"
    again = room.http.get("/api/take-back", params={"decision": "d"}).json()
    assert (again["events"], again["text"]) == ([], "Nothing is left to take back of the decision of PET 0:05.")


def test_what_is_no_decision_is_refused_in_words(room: Room):
    """404, with what was expected and found."""
    answer = room.http.get("/api/take-back", params={"decision": "nope"})
    assert answer.status_code == 404
    assert "nope" in answer.json()["problems"][0]["found"]
