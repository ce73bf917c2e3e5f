"""A rehearsal on the board: recorded decisions left out, the trainee's own in their place."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from dashboard.cli.show_run import branch_writer
from dashboard.core.base.times import parse_instant
from dashboard.service.desk import Desk
from dashboard.service.opening import rehearsal_desk
from dashboard.service.session.rehearsal import out_of_reach
from replay.recording import load_run
from tests.replay.test_branch import MOMENT, RUN
from tests.scenario import at
from tests.service.conftest import Room, message
from tests.service.http.test_debrief_routes import page_of


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return rehearsal_desk(RUN, MOMENT, branch_writer(tmp_path / "branch", RUN), at=parse_instant(at("0:35")))


def test_the_trainee_decides_and_the_branch_is_kept(room: Room, tmp_path: Path):
    """The recorded deferral does not come; the trainee's does, and the work on it goes."""
    with room.live() as client:
        assert message(client)["replay"]["rehearsed_from_pet_min"] == 30
    assert room.http.get("/api/state").json()["tasks"]["T020"]["state"] == "not started"
    answer = room.http.post("/api/events", json={"id": "m1", "kind": "defer", "tasks": ["T020"], "at": at("0:35")})
    assert answer.status_code in (200, 201), answer.text
    room.http.post("/api/replay", json={"action": "seek", "at_pet_min": 90})
    state = room.http.get("/api/state").json()
    assert (state["tasks"]["T020"]["state"], state["tasks"]["T030"]["state"]) == ("deferred", "done")
    left_out = (tmp_path / "branch" / "left-out.jsonl").read_text(encoding="utf-8")
    assert '"id":"e10"' in left_out and "T020 is out of the plan of record of the branch" in left_out
    saved = {event.id for event in load_run(tmp_path / "branch").events}
    assert "m1" in saved and not saved & {"e5", "e9", "e10"}


def seek(room: Room, pet_min: float) -> int:
    return room.http.post("/api/replay", json={"action": "seek", "at_pet_min": pet_min}).status_code


def enter(room: Room, *events: dict) -> list[tuple[str, str | None]]:
    answer = room.http.post("/api/events", json=list(events)).json()
    return [(one["status"], one["why"]) for one in answer["outcomes"]]


ADDED = {"kind": "add", "task": {"id": "X", "lanes": ["EV1"], "duration": 60}}


def test_a_rehearsal_goes_on_beyond_the_recorded_end_until_its_crew_is_in(room: Room):
    """Work that the recording never saw: the clock runs on to 4 h after the limit, and ends with the last of that work."""
    assert seek(room, 200) == 422
    assert seek(room, 170) == 200 and enter(room, ADDED) == [("recorded", None)]
    assert seek(room, 660) == 200 and seek(room, 662) == 422
    assert seek(room, 240) == 200 and room.http.get("/api/state").json()["ended"] is False
    enter(room, {"kind": "start", "task": "X", "at": at("3:05")}, {"kind": "done", "task": "X", "at": at("4:30")})
    assert seek(room, 270) == 200 and seek(room, 300) == 422
    assert room.http.get("/api/state").json()["tasks"]["X"]["finish_pet_min"] == 270
    strip = room.http.get("/api/replay/strip").json()
    assert max(strip["events"]) == 240 and strip["drift"][-1]["pet_min"] == 240


def test_play_does_not_begin_a_rehearsal_anew(room: Room):
    """At its end the clock stays there, and says why."""
    assert seek(room, 181) == 200
    answer = room.http.post("/api/replay", json={"action": "play"})
    assert answer.status_code == 422
    assert "does not start a rehearsal again" in answer.json()["problems"][0]["cure"]
    assert room.http.get("/api/state").json()["pet_min"] == 181


def test_the_time_before_a_rehearsal_is_only_looked_at(room: Room, tmp_path: Path):
    """Nothing of before PET 0:30 is taken, however it is said, and nothing is entered there; the rest of a batch is."""
    note = {"kind": "note", "text": "x"}
    correct = {"kind": "amend", "event": "e6", "changes": {"at": at("0:10")}}
    found = enter(room, {**note, "at": at("0:29")}, {**note, "at": at("0:30")}, correct)
    assert [status for status, _ in found] == ["refused", "recorded", "refused"]
    assert "ts time is PET 0:29, and the rehearsal begins at PET 0:30" in found[0][1]
    assert seek(room, 10) == 200 and room.http.get("/api/state").json()["pet_min"] == 10
    (status, why), = enter(room, {**note, "at": at("0:45")})
    assert status == "refused" and "he board shows PET 0:10, but the rehearsal begins at PET 0:30" in why
    assert len(load_run(tmp_path / "branch").events) == len(RUN.events) - 2 + 1


def test_pet_zero_stays_where_the_recorded_run_has_it(room: Room):
    """A clock event, whenever it is dated, would move the run as a whole: it is refused in words."""
    (status, why), = enter(room, {"kind": "clock", "at": at("0:40")})
    assert status == "refused" and "PET zero stands as recorded" in why
    assert room.http.get("/api/state").json()["pet_min"] == 35


def test_the_debrief_of_a_rehearsal_says_so(room: Room):
    """The page, its carry-over, and the facts."""
    said = "Rehearsal of Pool run 3 from PET 0:30, not a recorded run"
    assert room.http.get("/debrief.json").json()["rehearsal"] == said
    assert said in page_of(room).text
    enter(room, {"kind": "defer", "tasks": ["T020"], "at": at("0:35")})
    assert room.http.get("/debrief/carry-over.toml").text.startswith(f"# {said}.")


def answers(event: str, kind: str = "withdraw", **more: object) -> dict:
    return {"kind": kind, "event": event, "at": at("0:35"), **more}


def test_the_recorded_past_cannot_be_rewritten_from_a_rehearsal(room: Room, tmp_path: Path):
    """What the room had by PET 0:30 is neither amended nor withdrawn, though the answer is dated later."""
    withdrawn, amended = enter(room, answers("e4"), answers("e2", "amend", changes={"at": at("0:32")}))
    assert (withdrawn[0], amended[0]) == ("refused", "refused")
    assert "he event e4 (done, PET 0:30) is before the rehearsal, which begins at PET 0:30" in withdrawn[1]
    assert "the time before stands as recorded" in amended[1]
    (status, why), = enter(room, answers("e1", "amend", changes={"note": "x"}))
    assert status == "refused" and "PET zero stands as recorded" in why
    assert room.http.get("/api/state").json()["tasks"]["T010"]["state"] == "done"
    assert not {"amend", "withdraw"} & {event.kind for event in load_run(tmp_path / "branch").events}


def test_own_events_and_later_ones_are_still_answered_in_a_rehearsal(room: Room):
    """The trainee may correct themselves, though it was entered at the moment itself, and what came in later."""
    assert seek(room, 30) == 200
    assert enter(room, {"id": "m1", "kind": "defer", "tasks": ["T020"]}) == [("recorded", None)]
    assert enter(room, answers("m1"), answers("e7", "amend", changes={"oxygen": 0.4})) == [("recorded", None)] * 2
    assert seek(room, 36) == 200
    assert room.http.get("/api/state").json()["tasks"]["T020"]["state"] == "not started"


def test_a_recorded_past_entered_late_stands_too():
    """An event that came in after the moment but is of before it belongs to the recorded past; one of later does not."""
    late = next(event for event in RUN.events if event.id == "e7").model_copy(update={"at": parse_instant(at("0:20"))})
    run = replace(RUN, events=tuple(late if event.id == "e7" else event for event in RUN.events))
    now = parse_instant(at("1:00"))
    assert "e7 (reading, PET 0:20)" in (out_of_reach(answers("e7"), now, MOMENT, run) or "")
    assert out_of_reach(answers("e7"), now, MOMENT, RUN) is None
