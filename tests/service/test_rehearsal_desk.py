"""A rehearsal on the board: recorded decisions left out, the trainee's own in their place."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard.cli_board import branch_writer
from dashboard.core.times import parse_instant
from dashboard.service.desk import Desk
from dashboard.service.rehearsal import RehearsalFeed
from dashboard.service.serving import replay_desk
from replay.recording import load_run
from tests.replay.test_branch import MOMENT, RUN
from tests.scenario import at
from tests.service.conftest import Room, message


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    feed = RehearsalFeed(RUN, MOMENT, branch_writer(tmp_path / "branch", RUN))
    return replay_desk(RUN, at=parse_instant(at("0:35")), playing=False, feed=feed)


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
