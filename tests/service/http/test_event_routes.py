"""Sending events: `POST /api/events` and reading them back."""

import json
import socket
from urllib.parse import urlsplit

import pytest

from dashboard.core.base.problems import InputError, Problem
from dashboard.core.plan.model import Plan
from dashboard.log.store import EventStore
from dashboard.log.store.backup import of_text
from dashboard.service.desk import Desk
from dashboard.service.session.live import LiveSession
from tests.service.conftest import Room, StandingClock, at_pet, event
from tests.waiting import DEADLINE_S


def statuses(answer) -> list[str]:
    return [outcome["status"] for outcome in answer.json()["outcomes"]]


def problem(answer) -> dict[str, str]:
    found = answer.json()["problems"][0]
    assert set(found) == {"subject", "expected", "found", "cure", "where"}
    assert found["expected"] and found["found"] and found["cure"]
    return found


def test_an_event_is_recorded_and_counts_at_once(room: Room):
    """The state read after the acknowledgement covers the event."""
    answer = room.send(event("clock", 0, id="c"))
    assert (answer.status_code, statuses(answer)) == (200, ["recorded"])
    assert room.send(event("start", 0, task="T010")).status_code == 200
    assert room.state()["tasks"]["T010"]["state"] == "in work"


def test_a_backup_holds_every_row(room: Room):
    """As `tetherline restore` reads it."""
    room.send(event("clock", 0, id="c"), event("dance", 1))
    answer = room.http.get("/api/backup")
    assert answer.status_code == 200
    assert [(row.seq, row.id) for row in of_text(answer.text, "here").rows] == [(1, "c"), (2, None)]


def test_an_event_without_id_and_time_gets_both(room: Room, clock: StandingClock):
    """The time is the desk's now."""
    clock.instant = at_pet(12)
    name = room.send(event("note", text="Radio check")).json()["outcomes"][0]["id"]
    row = room.http.get("/api/events").json()[0]
    assert (row["id"], row["at"], row["text"]) == (name, "2031-04-12T09:22:00Z", "Radio check")


def test_the_same_event_twice_is_recorded_once(room: Room):
    """Sending again after a lost answer is safe."""
    room.send(event("start", 0, task="T010", id="a"))
    again = room.send(event("start", 0, task="T010", id="a"))
    assert (again.status_code, statuses(again)) == (200, ["already recorded"])
    assert len(room.http.get("/api/events").json()) == 1


def test_the_same_event_twice_without_a_time_is_recorded_once(room: Room, clock: StandingClock):
    """The time that the desk gave the first time counts for the second."""
    room.send(event("start", task="T010", id="a"))
    clock.instant = at_pet(5)
    assert statuses(room.send(event("start", task="T010", id="a"))) == ["already recorded"]


def test_an_id_used_for_something_else_is_a_conflict(room: Room):
    """The first event stands, and the sender is told why."""
    room.send(event("start", 0, task="T010", id="a"))
    answer = room.send(event("done", 5, task="T010", id="a"))
    assert (answer.status_code, statuses(answer)) == (422, ["conflict"])
    assert answer.json()["outcomes"][0]["why"]
    assert room.state()["tasks"]["T010"]["state"] == "in work"


def test_a_batch_is_answered_event_by_event(room: Room):
    """Good events of a mixed batch are recorded; the answer is 207 and in the order sent."""
    answer = room.send(
        event("start", 0, task="T010", id="a"),
        event("dance", 1, id="b"),
        event("note", 2, text="x", id="c"),
        event("start", 0, task="T010", id="a"),
    )
    assert answer.status_code == 207
    assert statuses(answer) == ["recorded", "unread", "recorded", "already recorded"]
    assert "dance" in answer.json()["outcomes"][1]["why"]


def test_what_cannot_be_understood_is_kept_and_shown(room: Room):
    """An unknown kind and an unknown task end up under unread, with the reason; nothing else stops."""
    room.send(
        event("dance", 1, id="b"), event("start", 0, task="T999", id="x"), event("start", 0, task="T010")
    )
    state = room.state()
    assert {("dance" in u["line"], "T999" in u["line"]) for u in state["unread"]} == {
        (True, False),
        (False, True),
    }
    assert all(unread["why"] for unread in state["unread"])
    assert state["tasks"]["T010"]["state"] == "in work"


@pytest.mark.parametrize("text", ["", "  "])
def test_a_decision_without_words_is_not_taken_for_one(room: Room, text: str):
    """It says nothing: it is answered with what was expected, and defers nothing."""
    room.send(event("clock", 0))
    answer = room.send(event("decision", 1, text=text, defer=["T010"]))
    assert (answer.status_code, statuses(answer)) == (422, ["unread"])
    assert "text: expected what was decided, in words; found none" in answer.json()["outcomes"][0]["why"]
    assert room.state()["tasks"]["T010"]["state"] == "not started"


def test_an_unknown_task_is_answered_with_the_nearest_name(room: Room):
    """The sender can mend the slip."""
    answer = room.send(event("start", 0, task="T0100"))
    assert (answer.status_code, statuses(answer)) == (422, ["unread"])
    assert "T010" in answer.json()["outcomes"][0]["why"]


def test_an_event_of_the_future_is_recorded_with_a_hint(room: Room, clock: StandingClock):
    """It counts from its time on, and the sender is told."""
    clock.instant = at_pet(10)
    answer = room.send(event("start", 25, task="T010"))
    assert (answer.status_code, statuses(answer)) == (200, ["recorded"])
    assert "15 min after now" in answer.json()["outcomes"][0]["hint"]
    assert room.state()["tasks"]["T010"]["state"] == "not started"


@pytest.mark.parametrize("given_up", [event("defer", tasks=["T010"]), event("decision", text="time", defer=["T010"])])
def test_giving_up_what_is_required_is_kept_and_said_plainly(plan: Plan, store_url: str, serve_desk, given_up: dict):
    """The log records what the room did; the sender is told, an alert and a discrepancy stand on the board."""
    required = [task.model_copy(update={"required": task.id == "T010"}) for task in plan.tasks]
    stricter = plan.model_copy(update={"tasks": required})
    desk = Desk(LiveSession(stricter, EventStore(store_url), StandingClock()))
    room = Room(serve_desk(desk).url)
    answer = room.send({**given_up, "id": "d"})
    assert (answer.status_code, statuses(answer)) == (200, ["recorded"])
    assert "T010 is required and not to be deferred" in answer.json()["outcomes"][0]["hint"]
    state = room.state()
    assert state["tasks"]["T010"]["state"] == "deferred"
    assert "required-out-T010" in [alert["id"] for alert in state["alerts"]]
    assert [one["expected"] for one in state["discrepancies"]] == ["T010 not to be deferred (required)"]
    assert room.send(event("defer", tasks=["T020"])).json()["outcomes"][0]["hint"] is None


def test_an_event_of_now_or_earlier_comes_without_a_hint(room: Room, clock: StandingClock):
    """A late entry is ordinary."""
    clock.instant = at_pet(10)
    assert room.send(event("start", 4, task="T010")).json()["outcomes"][0]["hint"] is None
    assert room.send(event("note", text="x")).json()["outcomes"][0]["hint"] is None


def test_what_only_the_store_may_give_is_not_taken_from_outside(room: Room, clock: StandingClock):
    """`seq` and `received` of a sender are set aside."""
    clock.instant = at_pet(10)
    room.send({**event("note", 3, text="x"), "seq": 99, "received": "2030-01-01T00:00:00Z"})
    row = room.http.get("/api/events").json()[0]
    assert (row["seq"], row["received"]) == (1, "2031-04-12T09:20:00Z")


@pytest.mark.parametrize(
    ("body", "status", "says"),
    [
        (b"", 400, "nothing"),
        (b"   \n", 400, "nothing"),
        (b'{"kind": "note"', 400, "JSON"),
        (b"\xff\xfe\x00n", 400, "JSON"),
        (b'{"kind": NaN}', 400, "JSON"),
        (b"[" * 100_000, 400, "JSON"),
        (b"42", 400, "a number"),
        (b'"start T010"', 400, "text"),
        (b"null", 400, "nothing (null)"),
        (b"[]", 400, "empty list"),
        (json.dumps({"kind": "note", "text": "x" * 1_000_001}).encode(), 413, "1000000 bytes"),
    ],
    ids=lambda value: repr(value)[:24],
)
def test_a_body_that_is_no_event_is_refused_with_a_clear_problem(empty_room: Room, body: bytes, status: int, says: str):
    """What was expected and found, and nothing was recorded."""
    answer = empty_room.http.post("/api/events", content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code == status
    told = problem(answer)
    assert says in told["found"] + told["expected"]
    assert empty_room.http.get("/api/events").json() == []


def test_a_body_that_is_far_too_large_is_refused_before_it_comes(empty_room: Room):
    """By the length that it announces; the sender is not kept waiting for the rest."""
    address = urlsplit(str(empty_room.http.base_url))
    with socket.create_connection((address.hostname, address.port), DEADLINE_S) as line:
        kind, length = b"Content-Type: application/json\r\n", b"Content-Length: 99999999999\r\n"
        line.sendall(b"POST /api/events HTTP/1.1\r\nHost: 127.0.0.1\r\n" + kind + length + b"\r\n{}")
        assert b" 413 " in line.recv(100)



def test_something_in_a_list_that_is_no_object_is_kept_as_unread(room: Room):
    """The other events of the list are recorded."""
    answer = room.http.post("/api/events", json=[7, event("note", 1, text="x")])
    assert (answer.status_code, statuses(answer)) == (207, ["unread", "recorded"])


def test_events_after_a_seq_are_the_newer_ones_in_order(room: Room):
    """A client that remembers its last `seq` gets what it lacks."""
    room.send(*(event("note", 5 - n, text=str(n)) for n in range(4)))
    rows = room.http.get("/api/events", params={"after": 2}).json()
    assert [(row["seq"], row["text"]) for row in rows] == [(3, "2"), (4, "3")]


def test_an_after_that_is_no_number_is_refused(empty_room: Room):
    """With the problem in the common shape."""
    answer = empty_room.http.get("/api/events", params={"after": "yesterday"})
    assert answer.status_code == 422
    assert "after" in problem(answer)["subject"]


def test_a_page_of_another_site_cannot_send_events(empty_room: Room):
    """A browser names the site of the page; only this server's own pages may write."""
    answer = empty_room.http.post(
        "/api/events", json=event("note", 1, text="x"), headers={"Origin": "http://elsewhere.example"}
    )
    assert answer.status_code == 403
    assert empty_room.http.get("/api/events").json() == []


def test_a_desk_that_only_shows_takes_no_events(room: Room, desk: Desk):
    """The role is kept by the server, not by the buttons of the page."""
    desk.may_log = False
    answer = room.send(event("note", 1, text="x"))
    assert answer.status_code == 403
    assert problem(answer)["found"] == "a server that only shows"


def test_what_cannot_be_kept_is_not_acknowledged(room: Room, desk: Desk, monkeypatch):
    """A full disk: 503 with the problem, and the sender knows that it must send again."""

    def full(items, received):
        raise InputError(
            [Problem("event store", "room on the disk", "none left", "Make room, then send again.")]
        )

    monkeypatch.setattr(desk.session, "enter", full)
    answer = room.send(event("note", 1, text="x"))
    assert answer.status_code == 503 and int(answer.headers["Retry-After"]) > 0
    assert problem(answer)["cure"] == "Make room, then send again."


@pytest.mark.parametrize("pet_min", [99 * 60, -30 * 60])
def test_a_time_far_off_is_recorded_with_a_hint(room: Room, clock: StandingClock, pet_min: float):
    """Days after the limit, or before the day of the sortie: kept, and the sender asked whether that is right."""
    clock.instant = at_pet(10)
    outcome = room.send(event("start", pet_min, task="T010", id="a")).json()["outcomes"][0]
    assert outcome["status"] == "recorded"
    assert "Is the time right?" in outcome["hint"] and "withdraw a" in outcome["hint"]


def test_an_amendment_to_a_time_far_off_gets_a_hint(room: Room, clock: StandingClock):
    """The time that it gives to its event is judged, not its own; a sensible one gets none."""
    clock.instant = at_pet(10)
    room.send(event("clock", 0), event("start", 5, task="T010", id="a"))
    far = {"at": "2031-04-16T12:10:00Z"}
    outcome = room.send(event("amend", 9, event="a", changes=far)).json()["outcomes"][0]
    assert (outcome["status"], "PET 99:00" in outcome["hint"]) == ("recorded", True)
    near = {"at": "2031-04-12T09:14:00Z"}
    assert room.send(event("amend", 9, event="a", changes=near)).json()["outcomes"][0]["hint"] is None


def test_a_decision_is_stored_with_the_figures_it_was_made_on(room: Room, clock: StandingClock):
    """Those of the board before it counts; sent again after a lost answer it is the same event."""
    clock.instant = at_pet(10)
    room.send(event("clock", 0), event("start", 0, task="T010"))
    before = room.state()
    clock.instant = at_pet(10)
    decision = event("decision", text="Drop the tray", defer=["T040"], id="d")
    assert statuses(room.send(decision)) == ["recorded"]
    figures = next(row for row in room.http.get("/api/events").json() if row["id"] == "d")["figures"]
    assert (figures["pet_min"], figures["events"], figures["plan"]) == (10, 2, "the briefed plan")
    assert figures["end_p50_pet_min"] == before["end"]["p50_pet_min"]
    assert (figures["in_by_limit"], figures["limit_pet_min"]) == (before["end"]["in_by_limit"], 390)
    assert figures["version"] >= 1
    clock.instant = at_pet(12)
    assert statuses(room.send(decision)) == ["already recorded"]


def test_figures_that_the_sender_gives_are_kept_as_they_are(room: Room):
    """Word for word, fields of its own included."""
    given = {"pet_min": 61.5, "seen_on": "paper"}
    room.send(event("decision", 0, text="x", figures=given, id="d"))
    assert room.http.get("/api/events").json()[0]["figures"] == given
