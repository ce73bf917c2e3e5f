"""`tetherline serve`, `replay` and `send`, against each other."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest
from websockets.sync.client import connect

from tests.command import LATE_PLAN, LOG, PLAN, assert_bad_input, tetherline

Start = Callable[..., tuple[subprocess.Popen, str]]


@pytest.fixture
def sortie(tmp_path: Path) -> Path:
    """A folder with a plan and a recorded run."""
    (tmp_path / "plan.toml").write_text(PLAN, encoding="utf-8")
    (tmp_path / "run-1.jsonl").write_text(LOG, encoding="utf-8")
    (tmp_path / "run-1.toml").write_text(
        'title = "Pool run 3"\nsetting = "pool"\ndate = 2031-03-02\n', encoding="utf-8"
    )
    return tmp_path


@pytest.fixture
def start() -> Iterator[Start]:
    """A command that serves; gives its process and its address."""
    processes: list[subprocess.Popen] = []

    def started(*arguments: str | Path) -> tuple[subprocess.Popen, str]:
        command = [sys.executable, "-m", "dashboard.cli", *map(str, arguments)]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        processes.append(process)
        for line in process.stdout:
            if address := re.search(r"http://\S+", line):
                return process, address.group()
        raise AssertionError(f"the server did not start: {process.stderr.read()}")

    yield started
    for process in processes:
        process.kill()
        process.communicate()


def state(url: str) -> dict:
    return httpx.get(f"{url}/api/state", trust_env=False).json()


def test_a_rehearsal_waits_at_its_beginning(start: Start, sortie: Path):
    """Nobody has opened it yet: its clock stands where the trainee begins."""
    _, url = start("replay", sortie, "--at", "0:20", "--rehearse", sortie / "mine", "--port", "0", "--no-browser")
    first, again = state(url), state(url)
    assert (first["mode"], first["pet_min"], again["now"]) == ("paused", 20, first["now"])


def test_serve_follows_and_keeps_the_log_beside_the_plan(start: Start, sortie: Path):
    """What is sent is there after a restart, in a file named after the plan."""
    process, url = start("serve", sortie / "plan.toml", "--port", "0")
    done = tetherline("send", "--to", url, "--event", '{"kind": "note", "text": "Radio check", "id": "n1"}')
    assert (done.returncode, done.stderr) == (0, "")
    assert "recorded" in done.stdout and "n1" in done.stdout
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=30)
    assert (sortie / "plan.log.sqlite").is_file()
    _, url = start("serve", sortie / "plan.toml", "--port", "0")
    assert [row["id"] for row in httpx.get(f"{url}/api/events", trust_env=False).json()] == ["n1"]


def test_serve_follows_a_plan_that_ends_past_its_own_limit(start: Start, sortie: Path):
    """With a warning; the state says by how much."""
    (sortie / "plan.toml").write_text(LATE_PLAN, encoding="utf-8")
    process, url = start("serve", sortie / "plan.toml", "--port", "0")
    shown = state(url)
    assert shown["end"]["margin_min"] == shown["limit"]["pet_min"] - 660 < -240
    process.send_signal(signal.SIGINT)
    _, errors = process.communicate(timeout=30)
    assert [line.split(":")[0] for line in errors.splitlines()] == ["warning"]


def test_a_replay_with_keys_is_controlled_by_whoever_may_enter_events(start: Start, sortie: Path):
    """Watching needs none."""
    _, url = start("replay", sortie / "run-1.jsonl", "--port", "0", "--no-browser", "--log-key", "k1", "--lead-key", "k2")
    statuses = [
        httpx.post(f"{url}/api/replay", json={"action": "pause"}, headers=headers, trust_env=False).status_code
        for headers in ({}, {"Authorization": "Bearer k1"})
    ]
    assert statuses == [403, 200]
    assert state(url)["mode"] == "paused"


@pytest.mark.parametrize("command", ["serve", "replay"])
def test_ctrl_c_ends_it_quietly_with_a_screen_open(start: Start, sortie: Path, command: str):
    """Exit code 0, nothing on standard error, while a client is connected."""
    what = sortie / "plan.toml" if command == "serve" else sortie / "run-1.jsonl"
    process, url = start(command, what, "--port", "0", *([] if command == "serve" else ["--no-browser"]))
    with connect(url.replace("http", "ws") + "/api/live") as client:
        client.recv(timeout=10)
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=30)
    assert (process.returncode, errors) == (0, "")


def test_a_port_in_use_is_refused_and_names_the_option(start: Start, sortie: Path):
    """Exit code 2 before anything else happens."""
    _, url = start("serve", sortie / "plan.toml", "--port", "0")
    port = url.rsplit(":", 1)[1].rstrip("/")
    assert_bad_input(tetherline("replay", sortie, "--port", port, "--no-browser"), "--port", port)


def test_an_address_of_another_computer_is_refused(sortie: Path):
    """One cannot serve on it."""
    assert_bad_input(
        tetherline("serve", sortie / "plan.toml", "--host", "192.0.2.1", "--port", "0"), "192.0.2.1"
    )


def test_replay_serves_the_run_from_the_time_asked_for(start: Start, sortie: Path):
    """With the words of its header, and the board on the same address."""
    _, url = start("replay", sortie, "--port", "0", "--at", "0:20", "--speed", "1", "--no-browser")
    found = state(url)
    assert found["mode"] == "replay"
    assert 20 <= found["pet_min"] < 25
    assert found["lanes"]["EV1"]["task"] == "T010"
    with connect(url.replace("http", "ws") + "/api/live") as client:
        run = json.loads(client.recv(timeout=10))["run"]
    assert run == {"title": "Pool run 3", "setting": "pool", "date": "2031-03-02", "rehearsal": ""}
    assert "text/html" in httpx.get(url, trust_env=False).headers["content-type"]


def test_the_demo_plays_the_invented_run_from_its_beginning(start: Start):
    """With no argument but the port: no file to find, nothing to configure, nothing loaded from elsewhere."""
    process, url = start("demo", "--port", "0", "--no-browser")
    found = state(url)
    assert (found["mode"], found["sortie"]) == ("replay", "lantern-2")
    assert 0 <= found["pet_min"] < 30
    process.send_signal(signal.SIGINT)
    printed, errors = process.communicate(timeout=30)
    assert (process.returncode, errors) == (0, "")


def test_serve_refuses_a_plan_with_errors(tmp_path: Path):
    """Before any server starts."""
    (tmp_path / "plan.toml").write_text(PLAN.replace("duration = 60", "duration = -60"), encoding="utf-8")
    assert_bad_input(tetherline("serve", tmp_path / "plan.toml", "--port", "0"), "-60")


def test_serve_refuses_a_store_that_is_none(sortie: Path):
    """A file of another kind is left as it is."""
    other = sortie / "plan.log.sqlite"
    other.write_bytes(b"not a database, but longer than a hundred bytes " * 10)
    before = other.read_bytes()
    assert_bad_input(tetherline("serve", sortie / "plan.toml", "--port", "0"), "store")
    assert other.read_bytes() == before


# --- send


@pytest.fixture
def server(start: Start, sortie: Path) -> str:
    return start("serve", sortie / "plan.toml", "--port", "0")[1]


def test_send_a_file_prints_an_outcome_a_line(server: str, sortie: Path):
    """Sent again, everything is there already."""
    for word in ("recorded", "already recorded"):
        done = tetherline("send", "--to", server, sortie / "run-1.jsonl")
        assert (done.returncode, done.stderr) == (0, "")
        assert [line.split(":")[0] for line in done.stdout.splitlines()] == [word] * 5
    assert len(httpx.get(f"{server}/api/events", trust_env=False).json()) == 5


def test_send_goes_on_after_a_bad_line_and_ends_with_2(server: str):
    """Bad JSON, no object, an unknown task, bad UTF-8: each is named by its line, the others are recorded."""
    lines = (
        b'{"kind": "note", "text": "one"}\nnot json\n[1]\n{"kind": "start", "task": "T999"}\n\xff\xfe\n'
        b'{"kind": "note", "text": NaN}\n{"kind": "note", "text": "\\ud800"}\n\n'
        b'{"kind": "note", "text": "two"}\n'
    )
    done = tetherline("send", "--to", server, "-", stdin=lines)
    assert done.returncode == 2
    told = dict(re.match(r"([a-z ]+): (line \d+)", line).groups()[::-1] for line in done.stdout.splitlines())
    assert told.pop("line 7") in ("refused", "unread", "recorded")
    assert told == {
        "line 1": "recorded",
        "line 2": "refused",
        "line 3": "refused",
        "line 4": "unread",
        "line 5": "refused",
        "line 6": "refused",
        "line 9": "recorded",
    }


def test_send_takes_standard_input_as_it_comes(server: str):
    """A line is sent when it is complete, not when the input ends."""
    command = [sys.executable, "-m", "dashboard.cli", "send", "--to", server, "-"]
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    for number in (1, 2):
        process.stdin.write('{"kind": "note", "text": "x"}\n')
        process.stdin.flush()
        assert process.stdout.readline().startswith(f"recorded: line {number}")
    process.communicate(timeout=30)
    assert process.returncode == 0


def test_a_batch_too_large_for_one_request_is_sent_in_parts(server: str, tmp_path: Path):
    """Two hundred events of 20 kB each."""
    file = tmp_path / "large.jsonl"
    line = json.dumps({"kind": "note", "text": "x" * 20_000})
    file.write_text(f"{line}\n" * 120, encoding="utf-8")
    done = tetherline("send", "--to", server, file)
    assert done.returncode == 0
    assert len(done.stdout.splitlines()) == 120


def test_send_tries_again_when_the_server_comes_back(start: Start, sortie: Path):
    """The connection is lost at first; the event arrives all the same, once."""
    process, url = start("serve", sortie / "plan.toml", "--port", "0")
    process.kill()
    process.wait()
    done: list[subprocess.CompletedProcess] = []
    sender = threading.Thread(
        target=lambda: done.append(
            tetherline("send", "--to", url, "--event", '{"kind": "note", "text": "x"}')
        )
    )
    sender.start()
    start("serve", sortie / "plan.toml", "--port", url.rsplit(":", 1)[1].rstrip("/"))
    sender.join(60)
    assert done[0].returncode == 0, done[0].stderr
    assert len(httpx.get(f"{url}/api/events", trust_env=False).json()) == 1


def test_send_gives_up_in_the_end(sortie: Path):
    """A bounded number of tries, then exit code 2 with what to do."""
    done = tetherline(
        "send", "--to", "http://127.0.0.1:9", "--tries", "2", "--event", '{"kind": "note", "text": "x"}'
    )
    assert_bad_input(done, "2 tries", "--to")


@pytest.mark.parametrize("to", ["ftp://x", "http://", "nonsense://", "http://127.0.0.1:99999", "http://[::1"])
def test_an_address_that_is_none_is_refused(to: str):
    """With an example of one."""
    assert_bad_input(tetherline("send", "--to", to, "--tries", "1", "--event", "{}"), "--to")


def test_send_needs_one_source_of_events(sortie: Path):
    """A file or an event; a missing file and a folder are named."""
    assert_bad_input(tetherline("send"), "neither")
    assert_bad_input(tetherline("send", "--event", "{}", "-"), "both")
    assert_bad_input(tetherline("send", sortie / "nope.jsonl"), "nope.jsonl")
    assert_bad_input(tetherline("send", sortie), sortie.name)
