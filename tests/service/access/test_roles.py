"""Who may do what: keys, roles, and the names a server answers to."""

from __future__ import annotations

import json
from collections.abc import Iterator

import httpx
import pytest

from dashboard.core.base.problems import InputError
from dashboard.core.events.kinds import KINDS, parse_event
from dashboard.core.plan.model import Plan
from dashboard.service.access.keys import Keys
from dashboard.service.access.roles import LEAD_KINDS, Grants
from dashboard.service.desk import Desk
from dashboard.service.http.api import make_api
from dashboard.service.http.gate import hosts_of
from dashboard.service.opening import replay_desk
from replay.recording import recorded
from tests.live_server import LiveServer
from tests.scenario import log_of
from tests.service.conftest import Room, event
from tests.waiting import DEADLINE_S

LOG, LEAD = "log-key-1", "lead-key-2"
BODIES = {"task": "T010", "tasks": ["T010"], "text": "x"}


@pytest.fixture
def url(desk: Desk) -> Iterator[str]:
    with LiveServer(make_api(desk, Keys(LOG, LEAD), hosts_of("127.0.0.1"))) as server:
        yield server.url


def room_with(url: str, key: str | None) -> Room:
    room = Room(url)
    if key is not None:
        room.http.headers["Authorization"] = f"Bearer {key}"
    return room


def outcomes(answer: httpx.Response) -> list[str]:
    return [outcome["status"] for outcome in answer.json()["outcomes"]]


@pytest.mark.parametrize(
    ("keys", "shown", "role"),
    [
        ((None, None), None, "lead"), ((None, None), "anything", "lead"),
        ((LOG, LEAD), None, "watch"), ((LOG, LEAD), "wrong", "watch"), ((LOG, LEAD), "", "watch"),
        ((LOG, LEAD), LOG, "log"), ((LOG, LEAD), LEAD, "lead"),
        ((None, LEAD), None, "log"), ((None, LEAD), LEAD, "lead"), ((None, LEAD), "wrong", "log"),
        ((LOG, None), None, "watch"), ((LOG, None), LOG, "lead"),
    ],
)  # fmt: skip
def test_a_key_shows_the_role(keys, shown: str | None, role: str):
    """A role without a key of its own is open to whoever may do the less."""
    here = Keys(*keys)
    assert here.visitor(None if shown is None else here.pass_of_key(shown), 0).role == role


@pytest.mark.parametrize("keys", [("", None), (None, "two words"), ("ключ", None), ("same", "same"), ("a\nb", None)])
def test_a_key_that_cannot_be_used_is_refused(keys):
    """It must fit an address and a header, and tell the roles apart."""
    with pytest.raises(InputError, match="key: expected"):
        Keys(*keys)


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_of_event_needs_its_role(kind: str):
    """Decisions need lead, the rest log; an answer to an event that is not there needs lead."""
    needed = Grants({}).needed({"kind": kind, "event": "nowhere"})
    assert needed == ("lead" if kind in LEAD_KINDS or kind in ("amend", "withdraw") else "log")


@pytest.mark.parametrize(
    ("item", "needed"),
    [
        ({"kind": "amend", "event": "start-1"}, "log"),
        ({"kind": "withdraw", "event": "defer-1"}, "lead"),
        ({"kind": "withdraw", "event": "amend-of-defer"}, "lead"),
        ({"kind": "withdraw", "event": "amend-of-start"}, "log"),
        ({"kind": "amend", "id": "a", "event": "a"}, "lead"),
        ({"kind": "withdraw", "event": "nowhere"}, "lead"),
        (7, "log"), (None, "log"), ({"kind": ["defer"]}, "log"), ({"kind": "amend", "event": 3}, "log"),
    ],
)  # fmt: skip
def test_a_correction_needs_what_its_event_needs(item, needed: str):
    """Through corrections of corrections; what is not there yet needs lead."""
    bodies = {
        "start-1": {"kind": "start", "task": "T010"},
        "defer-1": {"kind": "defer", "tasks": ["T010"]},
        "amend-of-defer": {"kind": "amend", "event": "defer-1", "changes": {"note": "x"}},
        "amend-of-start": {"kind": "amend", "event": "start-1", "changes": {"note": "x"}},
    }
    events = {name: parse_event({"id": name, "at": "2031-04-12T09:10:00Z", **body}) for name, body in bodies.items()}
    assert Grants(events).needed(item) == needed


def test_an_event_recorded_in_the_same_request_says_what_its_answer_needs():
    """In the order of the request; an id that is taken stands for its first event."""
    decided = parse_event({"id": "d", "kind": "defer", "tasks": ["T010"], "at": "2031-04-12T09:10:00Z"})
    grants = Grants({"d": decided})
    note = parse_event({"id": "n", "kind": "note", "text": "x", "at": "2031-04-12T09:10:00Z"})
    withdrawn = {"kind": "withdraw", "event": "n"}
    assert grants.needed(withdrawn) == "lead"
    grants.recorded(note)
    grants.recorded(note.model_copy(update={"id": "d"}))
    assert (grants.needed(withdrawn), grants.needed({"kind": "withdraw", "event": "d"})) == ("log", "lead")


@pytest.mark.parametrize(
    "decoy",
    [
        {"id": "X", "kind": "note"},
        {"id": "X", "kind": "dance"},
        {"id": "X", "kind": "note", "text": "x", "sortie": "another"},
        {"id": "X", "kind": "defer", "tasks": ["T010"]},
    ],
    ids=["without its text", "of no kind", "of another sortie", "refused"],
)
def test_what_is_not_recorded_lets_nobody_cancel_a_later_decision(url: str, decoy: dict):
    """An event that is not taken has no id in the log: an answer to it would be one to the decision of that id to come."""
    log, lead = room_with(url, LOG), room_with(url, LEAD)
    answer = log.send(decoy, event("withdraw", 0, event="X", id="w"))
    assert outcomes(answer)[1] == "refused"
    assert lead.send(event("decision", 0, id="X", text="Drop it", defer=["T010"])).status_code == 200
    assert log.state()["tasks"]["T010"]["state"] == "deferred"


def test_reading_needs_no_key(url: str):
    """State, events, plan, why and the live push."""
    room = room_with(url, None)
    for path in ("/api/state", "/api/events", "/api/plan", "/api/why", "/api/docs"):
        assert room.http.get(path).status_code == 200
    with room.live() as client:
        head = json.loads(client.recv(timeout=DEADLINE_S))
    assert (head["role"], head["roles"]) == ("watch", {"log": False, "decide": False})


@pytest.mark.parametrize(
    ("key", "role", "note", "defer"),
    [(None, "watch", 403, 403), ("wrong", "watch", 403, 403), (LOG, "log", 200, 403), (LEAD, "lead", 200, 200)],
)
def test_the_key_decides_what_is_taken(url: str, key: str | None, role: str, note: int, defer: int):
    """403 and a plain sentence where it is not enough; the live push tells each client its own role."""
    room = room_with(url, key)
    assert room.send(event("note", 0, text="x")).status_code == note
    answer = room.send(event("defer", 0, tasks=["T010"], id="d"))
    assert answer.status_code == defer
    if defer == 403:
        outcome = answer.json()["outcomes"][0]
        assert (outcome["status"], outcome["id"], outcome["seq"]) == ("refused", "d", None)
        assert outcome["why"].startswith("'defer' needs the lead key")
    with room.live(additional_headers={"Authorization": f"Bearer {key}"} if key else {}) as client:
        head = json.loads(client.recv(timeout=DEADLINE_S))
    assert head["role"] == role


@pytest.mark.parametrize(("key", "status"), [(None, 403), ("wrong", 403), (LOG, 200), (LEAD, 200)])
def test_moving_the_clock_of_a_replay_needs_the_log_key(plan: Plan, key: str | None, status: int):
    """It is one clock for all who watch. Without the key nothing moves, and it is said what to do."""
    run = recorded(plan, log_of("0:00 clock\n0:01 start T010\n0:36 done T010"))
    desk = replay_desk(run, playing=False)
    with LiveServer(make_api(desk, Keys(LOG, LEAD))) as server:
        room = room_with(server.url, key)
        answer = room.http.post("/api/replay", json={"action": "seek", "at_pet_min": 20})
        assert answer.status_code == status
        assert room.state()["pet_min"] == (20 if status == 200 else 0)
        if status == 403:
            (problem,) = answer.json()["problems"]
            assert problem["expected"] == "the log key" and "?key=" in problem["cure"]


def test_what_is_refused_leaves_no_trace_and_the_rest_is_taken(url: str):
    """One outcome each, in the order sent; 207."""
    room = room_with(url, LOG)
    answer = room.send(
        event("note", 0, text="x", id="n"), event("defer", 0, tasks=["T010"], id="d"), event("dance", 0, id="x")
    )
    assert (answer.status_code, outcomes(answer)) == (207, ["recorded", "refused", "unread"])
    assert [row.get("id") for row in room.http.get("/api/events").json()] == ["n", None]


def test_a_decision_cannot_be_withdrawn_with_the_log_key(url: str):
    """Nor amended; with the lead key it can."""
    room_with(url, LEAD).send(event("defer", 0, tasks=["T010"], id="d"))
    answers = [
        room_with(url, LOG).send(event("withdraw", 0, event="d")),
        room_with(url, LOG).send(event("amend", 0, event="d", changes={"tasks": ["T020"]})),
        room_with(url, LEAD).send(event("withdraw", 0, event="d")),
    ]
    assert [answer.status_code for answer in answers] == [403, 403, 200]


def test_with_no_keys_everyone_is_lead(room: Room):
    """As on the computer of one person."""
    assert room.send(event("defer", 0, tasks=["T010"])).status_code == 200
    with room.live() as client:
        head = json.loads(client.recv(timeout=DEADLINE_S))
    assert (head["role"], head["roles"]) == ("lead", {"log": True, "decide": True})
