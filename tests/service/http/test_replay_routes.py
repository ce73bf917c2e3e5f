"""Replaying a recorded run through the service."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import timedelta

import pytest

from dashboard.core.plan.model import Plan
from dashboard.log.store import EventStore
from dashboard.service.desk import Desk
from dashboard.service.http.api import make_api
from dashboard.service.opening import replay_desk
from dashboard.service.session.live import LiveSession
from dashboard.service.session.replay import ReplaySession
from replay.recording import RecordedRun, as_it_was, recorded
from tests.live_server import LiveServer
from tests.scenario import log_of, plan_of
from tests.service.conftest import PLAN, Room, StandingClock, at_pet, event, message, message_where
from tests.waiting import until

LOG = """
    0:00 clock
    0:01 start T010
    0:02 start T030
    0:36 done T010
    0:37 start T020
    1:01 done T030
    1:09 done T020
    1:10 start T040
"""
LATE_ENTRY_MIN = {"e4": 6.0, "e6": 3.0}


@pytest.fixture
def run(plan: Plan) -> RecordedRun:
    return run_of(plan)


def run_of(plan: Plan) -> RecordedRun:
    """A run whose log was kept in turn, but for two late entries."""
    events = [
        e.model_copy(update={"received": e.at + timedelta(minutes=LATE_ENTRY_MIN.get(e.id, 0.0))})
        for e in log_of(LOG)
    ]
    return recorded(plan, events, header={"title": "Pool run 3", "setting": "pool", "date": "2031-03-02"})


@pytest.fixture
def desk(run: RecordedRun) -> Desk:
    return replay_desk(run, at=at_pet(0), playing=False)


@pytest.fixture(scope="module")
def shared() -> Iterator[Room]:
    """A replay for tests that leave it as it is, or begin with a seek."""
    with LiveServer(make_api(replay_desk(run_of(plan_of(PLAN)), at=at_pet(0), playing=False))) as server:
        room = Room(server.url)
        until(lambda: room.http.get("/api/state").status_code == 200, "the first version")
        yield room


def control(room: Room, **wanted) -> dict:
    answer = room.http.post("/api/replay", json=wanted)
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_a_replay_says_so_and_names_its_run(room: Room):
    """It cannot be taken for a live sortie."""
    with room.live() as client:
        found = message(client)
    assert (found["mode"], found["clock_running"]) == ("paused", False)
    assert found["run"] == {"title": "Pool run 3", "setting": "pool", "date": "2031-03-02", "rehearsal": ""}
    assert (found["replay"]["from_pet_min"], found["replay"]["to_pet_min"]) == (0, 70)
    assert found["replay"]["counts_from"] == "received"


def test_a_replay_keeps_no_log_to_back_up(shared: Room):
    """409, with what to name instead."""
    answer = shared.http.get("/api/backup")
    assert (answer.status_code, answer.json()["problems"][0]["cure"]) == (409, "Name a live server.")


def test_seek_goes_there_and_the_state_follows(shared: Room):
    """By PET or by instant."""
    assert control(shared, action="seek", at_pet_min=20)["pet_min"] == 20
    assert shared.state()["tasks"]["T010"]["state"] == "in work"
    assert control(shared, action="seek", at="2031-04-12T09:55:00Z")["pet_min"] == 45
    assert shared.state()["tasks"]["T010"]["state"] == "done"


def test_an_event_counts_once_the_room_had_it(room: Room):
    """Done at 0:36 and entered at 0:42: at 0:40 the room still believed it in work."""
    control(room, action="seek", at_pet_min=40)
    assert room.state()["tasks"]["T010"]["state"] == "in work"
    control(room, action="seek", at_pet_min=42)
    assert room.state()["tasks"]["T010"]["finish_pet_min"] == 36


def test_step_goes_from_event_to_event(room: Room):
    """By when the room received them, both ways."""
    control(room, action="seek", at_pet_min=3)
    assert control(room, action="step")["pet_min"] == 37
    assert control(room, action="step", direction="next")["pet_min"] == 42
    assert control(room, action="step", direction="previous")["pet_min"] == 37


def test_a_decision_is_stepped_to_where_there_is_one(plan: Plan, serve_desk):
    """Both ways, pausing there; with none left the clock stays, and the answer says so."""
    log = log_of("0:00 clock\n0:01 start T010\n0:20 defer T020\n0:36 done T010\n0:40 reinstate T020\n1:00 note x")
    room = Room(serve_desk(replay_desk(recorded(plan, log), at=at_pet(5))).url)
    assert control(room, action="step", to="decision") | {"version": 0, "now": ""} == {
        "version": 0, "mode": "paused", "speed": 60, "now": "", "pet_min": 20,
    }  # fmt: skip
    assert control(room, action="step", to="decision")["pet_min"] == 40
    refused = room.http.post("/api/replay", json={"action": "step", "to": "decision"})
    assert refused.status_code == 422 and "a decision after PET 0:40" in refused.text
    assert room.state()["pet_min"] == 40
    assert control(room, action="step", to="decision", direction="previous")["pet_min"] == 20
    room.http.post("/api/replay", json={"action": "seek", "at_pet_min": 30})
    assert room.send(event("defer", tasks=["T030"])).status_code == 200
    control(room, action="seek", at_pet_min=21)
    assert control(room, action="step", to="decision")["pet_min"] == 30


def test_a_seek_may_pause_there(room: Room):
    """In one request: the clock does not run on from the moment wanted."""
    control(room, action="play")
    assert control(room, action="seek", at_pet_min=20, pause=True) | {"version": 0, "now": ""} == {
        "version": 0, "mode": "paused", "speed": 60, "now": "", "pet_min": 20,
    }  # fmt: skip


def test_the_strip_shows_what_the_room_could_read_off(room: Room):
    """T020, briefed for 30 min from 0:30, took 32 from 0:37: most behind at its end, when the room did not know it yet."""
    strip = room.http.get("/api/replay/strip").json()
    assert strip["events"] == [0, 1, 2, 37, 42, 64, 69, 70]
    assert strip["decisions"] == []
    assert strip["drift"][0] == {"pet_min": 0, "ahead_min": 0}
    assert strip["worst"] == min(strip["drift"], key=lambda point: point["ahead_min"])
    control(room, action="seek", at_pet_min=strip["worst"]["pet_min"])
    known = [lane["ahead_min"] for lane in room.state()["lanes"].values() if lane["ahead_min"] is not None]
    assert min(known) == pytest.approx(strip["worst"]["ahead_min"], abs=1e-6)


def test_the_strip_knows_what_was_entered(room: Room):
    """An event that is entered while replaying stands in the strip the next time it is asked for."""
    control(room, action="seek", at_pet_min=25)
    room.send(event("defer", tasks=["T020"]))
    assert room.http.get("/api/replay/strip").json()["decisions"] == [25]
    room.state()  # the version with the entry is made
    with room.live() as client:
        assert message_where(client, lambda found: found["replay"]["entries"] == 1)


def test_a_run_as_it_really_was_says_so(run: RecordedRun, serve_desk):
    """The message names from when events count."""
    room = Room(serve_desk(replay_desk(as_it_was(run), playing=False)).url)
    with room.live() as client:
        assert message(client)["replay"]["counts_from"] == "at"


def test_playing_moves_the_clock_at_the_speed_asked_for(room: Room):
    """At speed 600 ten minutes pass in a second; the screens are told at most four times a second."""
    control(room, action="speed", speed=600)
    with room.live() as client:
        control(room, action="play")
        later = message_where(client, lambda found: found["pet_min"] > 10)
        versions = [message(client)["version"] for _ in range(4)]
    assert (later["mode"], later["speed"], later["clock_running"]) == ("replay", 600, True)
    assert versions == sorted(set(versions))
    assert control(room, action="pause")["mode"] == "paused"
    assert room.state()["pet_min"] == room.state()["pet_min"] > 10


def test_at_the_end_of_the_run_the_clock_stops(room: Room):
    """It shows paused, at the last thing that was received."""
    control(room, action="speed", speed=600)
    control(room, action="seek", at_pet_min=69)
    with room.live() as client:
        control(room, action="play")
        ended = message_where(client, lambda found: found["pet_min"] == 70)
    assert (ended["mode"], ended["clock_running"]) == ("paused", False)


@pytest.mark.parametrize(
    ("wanted", "says"),
    [
        ({"action": "dance"}, "play"),
        ({}, "action"),
        ({"action": "speed"}, "none"),
        ({"action": "speed", "speed": 0}, "from 1 to 600"),
        ({"action": "speed", "speed": "fast"}, "number"),
        ({"action": "seek"}, "neither"),
        ({"action": "seek", "at_pet_min": 20, "at": "2031-04-12T09:55:00Z"}, "both"),
        ({"action": "seek", "at_pet_min": 600}, "PET 1:10"),
        ({"action": "seek", "at": "2031-04-12T09:55:00"}, "zone"),
        ({"action": "seek", "at": "2031-05-12T09:55:00Z"}, "2031-04-12T10:20:00Z"),
        ({"action": "step", "direction": "sideways"}, "next"),
        ({"action": "play", "backwards": True}, "backwards"),
        ([1], "object"),
    ],
    ids=str,
)
def test_a_control_that_makes_no_sense_is_refused_and_changes_nothing(shared: Room, wanted, says: str):
    """With what was expected; the clock stays where it was."""
    control(shared, action="seek", at_pet_min=20)
    answer = shared.http.post("/api/replay", json=wanted)
    assert answer.status_code == 422
    assert says in str(answer.json()["problems"])
    assert shared.state()["pet_min"] == 20


def test_events_can_be_entered_while_replaying(room: Room):
    """They count from then on, are gone when the clock goes back before them, and return with it."""
    control(room, action="seek", at_pet_min=20)
    answer = room.send(event("hold", task="T010", reason="tether caught"))
    assert answer.status_code == 200
    assert room.state()["tasks"]["T010"]["state"] == "on hold"
    control(room, action="seek", at_pet_min=15)
    assert room.state()["tasks"]["T010"]["state"] == "in work"
    control(room, action="seek", at_pet_min=25)
    assert room.state()["tasks"]["T010"]["state"] == "on hold"


def test_the_recorded_run_is_not_touched(room: Room, run: RecordedRun):
    """What is entered lies over it."""
    before = list(run.events)
    control(room, action="seek", at_pet_min=20)
    room.send(event("note", text="x"))
    assert list(run.events) == before


def test_an_event_of_the_run_sent_again_is_recorded_already(room: Room):
    """Its id is taken, also for other content."""
    same = room.send(event("start", 1, task="T010", id="e2"))
    other = room.send(event("start", 1, task="T030", id="e2"))
    assert same.json()["outcomes"][0]["status"] == "already recorded"
    assert other.json()["outcomes"][0]["status"] == "conflict"


def test_replay_shows_what_was_seen_live(plan: Plan, run: RecordedRun, tmp_path, serve_desk: Callable[[Desk], object]):
    """At every instant the state of the replay is the live state of that instant, but for the mode."""
    live_clock = StandingClock()
    live_desk = Desk(LiveSession(plan, EventStore(f"sqlite:///{tmp_path / 'x.sqlite'}"), live_clock))
    replayed_desk = Desk(ReplaySession(run, at=at_pet(0), playing=False))  # without advice, as the live one
    live, again = Room(serve_desk(live_desk).url), Room(serve_desk(replayed_desk).url)
    to_come = list(run.events)
    for pet_min in (0, 1.5, 20, 40, 42, 61, 70):
        while to_come and to_come[0].received <= at_pet(pet_min):
            recorded_event = to_come.pop(0)
            live_clock.instant = recorded_event.received
            sent = recorded_event.model_dump(mode="json", exclude_none=True, exclude={"seq", "received"})
            assert live.send(sent).status_code == 200
        live_clock.instant = at_pet(pet_min)
        live_desk.ask()
        control(again, action="seek", at_pet_min=pet_min)
        seen_live, replayed = live.state(), again.state()
        assert (seen_live.pop("mode"), replayed.pop("mode")) == ("live", "paused")
        assert replayed == seen_live, pet_min
    assert not to_come


def test_pet_is_told_from_the_first_moment_of_a_run_of_another_day(run: RecordedRun, serve_desk):
    """The clock event was entered six seconds after PET zero; the replay never shows a PET of another day."""
    events = [
        e.model_copy(update={"received": e.at + timedelta(seconds=6)}) if e.kind == "clock" else e
        for e in run.events
    ]
    shifted = timedelta(days=-41)
    events = [e.model_copy(update={"at": e.at + shifted, "received": e.received + shifted}) for e in events]
    room = Room(serve_desk(replay_desk(recorded(run.plan, events), playing=False)).url)
    assert room.state()["pet_min"] == 0.1
    for direction in ("previous", "next", "previous"):
        control(room, action="step", direction=direction)
        assert 0 <= room.state()["pet_min"] <= 70
    assert control(room, action="seek", at_pet_min=0)["pet_min"] == 0.1


def test_what_cannot_be_understood_is_not_shown_before_its_time(room: Room):
    """Entered at 0:20: gone at 0:15, there again at 0:25."""
    control(room, action="seek", at_pet_min=20)
    room.send({"kind": "dance", "id": "d"})
    for pet_min, shown in ((20, 1), (15, 0), (25, 1)):
        control(room, action="seek", at_pet_min=pet_min)
        assert len(room.state()["unread"]) == shown


def test_what_claims_the_id_of_an_event_of_the_run_is_kept(room: Room):
    """Nothing is lost: it stands among the unread with the reason, once however often it is sent, as it would live."""
    control(room, action="seek", at_pet_min=20)
    for _ in range(2):
        assert room.send(event("start", 1, task="T030", id="e2")).json()["outcomes"][0]["status"] == "conflict"
    unread = room.state()["unread"]
    assert len(unread) == 1
    assert "T030" in unread[0]["line"] and "'e2'" in unread[0]["why"]
    assert [row["why"] for row in room.http.get("/api/events").json() if "line" in row] == [unread[0]["why"]]


def rows(room: Room, after: int = 0) -> list[dict]:
    return room.http.get("/api/events", params={"after": after}).json()


def test_a_client_that_follows_the_log_of_a_replay_misses_nothing(room: Room, run: RecordedRun):
    """An event is entered before most of the run is received: `after` the last cursor brings all that comes later."""
    control(room, action="seek", at_pet_min=20)
    room.send(event("note", text="x", id="mine"))
    got = rows(room)
    assert [row["id"] for row in got] == ["e1", "e2", "e3", "mine"]
    for pet_min in (38, 43, 70):
        control(room, action="seek", at_pet_min=pet_min)
        got += rows(room, got[-1]["cursor"])
    assert [row["id"] for row in got] == ["e1", "e2", "e3", "mine", *(e.id for e in run.events[3:])]
    assert [row["cursor"] for row in got] == sorted({row["cursor"] for row in got})


def test_a_client_that_asks_while_the_clock_is_back_misses_nothing_either(room: Room, run: RecordedRun):
    """Another client had followed to the end; for this one, what is received once more comes under new cursors."""
    control(room, action="seek", at_pet_min=70)
    rows(room)
    control(room, action="seek", at_pet_min=20)
    room.send(event("note", text="x", id="mine"))
    got = rows(room)
    assert {row["id"] for row in got} == {"e1", "e2", "e3", "mine"}
    control(room, action="seek", at_pet_min=70)
    got += rows(room, got[-1]["cursor"])
    assert {row["id"] for row in got} == {"mine", *(e.id for e in run.events)}


def test_the_replay_cannot_be_controlled_when_live(plan: Plan, store_url: str, serve_desk):
    """409, and the clock of the sortie is left alone."""
    room = Room(serve_desk(Desk(LiveSession(plan, EventStore(store_url), StandingClock()))).url)
    answer = room.http.post("/api/replay", json={"action": "pause"})
    assert answer.status_code == 409
    assert answer.json()["problems"][0]["found"] == "a live sortie"
