"""`tetherline replay`: the board of a recorded run."""

from __future__ import annotations

import json
from pathlib import Path

import httpx
import pytest
from websockets.sync.client import connect

from tests.command import (
    LOG,
    PLAN,
    assert_bad_input,
    state_of,
    tetherline,
    written,
)
from tests.local import LOCAL
from tests.serving import Start
from tests.waiting import DEADLINE_S


def test_replay_serves_the_run_from_the_time_asked_for(start: Start, sortie: Path):
    """With the words of its header, and the board on the same address."""
    _, url = start("replay", sortie, "--port", "0", "--at", "0:20", "--speed", "1", "--no-browser")
    found = state_of(url)
    assert found["mode"] == "replay"
    assert 20 <= found["pet_min"] < 25
    assert found["lanes"]["EV1"]["task"] == "T010"
    with connect(url.replace("http", "ws") + "/api/live") as client:
        run = json.loads(client.recv(timeout=DEADLINE_S))["run"]
    assert run == {"title": "Pool run 3", "setting": "pool", "date": "2031-03-02", "rehearsal": ""}
    assert "text/html" in httpx.get(url, **LOCAL, timeout=DEADLINE_S).headers["content-type"]


def test_a_replay_with_keys_is_controlled_by_whoever_may_enter_events(start: Start, sortie: Path):
    """Watching needs none."""
    _, url = start("replay", sortie / "run-1.jsonl", "--port", "0", "--no-browser", "--log-key", "k1", "--lead-key", "k2")
    statuses = [
        httpx.post(
            f"{url}/api/replay", json={"action": "pause"}, headers=headers, **LOCAL, timeout=DEADLINE_S
        ).status_code
        for headers in ({}, {"Authorization": "Bearer k1"})
    ]
    assert statuses == [403, 200]
    assert state_of(url)["mode"] == "paused"


@pytest.mark.parametrize(
    ("name", "files", "says"),
    [
        ("nofile", None, "nofile: recorded run: expected a log, or a folder"),
        ("folder", {}, "one file log.jsonl or run-*.jsonl; found none"),
        ("folder", {"run-1.jsonl": LOG}, "plan of the run: expected plan.toml beside the log"),
        ("folder", {"plan.toml": PLAN, "run-1.jsonl": LOG, "run-2.jsonl": LOG}, "run-1.jsonl, run-2.jsonl"),
        ("folder", {"plan.toml": PLAN, "run-1.jsonl": LOG, "run-1.toml": b"\xff"}, "which is not UTF-8"),
        ("folder", {"plan.toml": PLAN, "run-1.jsonl": ""}, "an empty file"),
    ],
)
def test_a_run_that_cannot_be_replayed_is_refused(tmp_path: Path, name: str, files, says: str):
    """In words about what was asked for, not about what the program looked for next."""
    if files is not None:
        (tmp_path / name).mkdir()
        for file, content in files.items():
            written(tmp_path / name, file, content)
    assert_bad_input(tetherline("replay", tmp_path / name, "--no-browser"), says)


def test_a_time_outside_the_run_is_refused(sortie: Path):
    """Before any server starts."""
    assert_bad_input(tetherline("replay", sortie, "--at", "9:00", "--no-browser"), "option --at")
