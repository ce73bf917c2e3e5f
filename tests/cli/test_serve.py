"""`tetherline serve`: the board of a sortie as it happens."""

from __future__ import annotations

import json
import re
import signal
import socket
import subprocess
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest
from websockets.sync.client import connect

from dashboard.core.base.times import parse_instant
from dashboard.log.store import EventStore
from tests.cli.conftest import StartProcess
from tests.command import (
    LATE_PLAN,
    PLAN,
    assert_bad_input,
    state_of,
    tetherline,
)
from tests.local import LOCAL
from tests.serving import Start
from tests.waiting import DEADLINE_S, until


def test_serve_follows_and_keeps_the_log_beside_the_plan(start: Start, sortie: Path):
    """What is sent is there after a restart, in a file named after the plan."""
    process, url = start("serve", sortie / "plan.toml", "--port", "0")
    done = tetherline("send", "--to", url, "--event", '{"kind": "note", "text": "Radio check", "id": "n1"}')
    assert (done.returncode, done.stderr) == (0, "")
    assert "recorded" in done.stdout and "n1" in done.stdout
    process.stop()
    assert (sortie / "plan.log.sqlite").is_file()
    _, url = start("serve", sortie / "plan.toml", "--port", "0")
    assert [row["id"] for row in httpx.get(f"{url}/api/events", **LOCAL, timeout=DEADLINE_S).json()] == ["n1"]


def test_serve_says_what_it_found_in_the_store(sortie: Path, monkeypatch: pytest.MonkeyPatch):
    """A new one, an empty file, or how many events: a wrong file is noticed before the sortie."""

    def up_and_away(asgi: object, sock: socket.socket, *, when_up: Callable[[], None], **_: object) -> None:
        when_up()
        sock.close()

    def said(file: Path) -> str:
        done = tetherline("serve", sortie / "plan.toml", "--port", "0", "--no-browser", "--store", f"sqlite:///{file}")
        return re.search(r"The log is kept in sqlite:///\S+ \((.+)\)\.", done.stdout).group(1)

    monkeypatch.setattr("dashboard.cli.serve.serve", up_and_away)
    held = EventStore(f"sqlite:///{sortie / 'held.db'}", "t")
    held.append([{"id": "n1", "at": "2031-04-12T09:15:00Z", "kind": "clock"}], parse_instant("2031-04-12T09:20:00Z"))
    held.close()
    (sortie / "empty.db").touch()
    assert said(sortie / "new.db") == "a new store was made"
    assert said(sortie / "empty.db") == "an empty file (0 bytes) was there; a new store was made in it"
    assert said(sortie / "held.db") == "1 event found in it, the last received 2031-04-12T09:20:00Z"


@pytest.mark.parametrize("command", [("serve", "plan.toml"), ("replay", "."), ("demo",)], ids=lambda words: words[0])
def test_others_are_served_only_with_keys_or_names(sortie: Path, command: tuple[str, ...]):
    """On every address of this computer everyone could decide: refused, with what to do."""
    name, *of = command
    done = tetherline(name, *(sortie / one for one in of), "--host", "0.0.0.0", "--port", "0")
    assert_bad_input(done, "option --host 0.0.0.0", "neither", "--log-key" if name != "demo" else "--name")


def test_with_a_name_others_are_served_by_that_name(start: Start, sortie: Path):
    """And by no other."""
    _, url = start("serve", sortie / "plan.toml", "--host", "0.0.0.0", "--name", "board.example", "--port", "0")
    found = [
        httpx.get(f"{url}/api/plan", headers={"Host": host}, **LOCAL, timeout=DEADLINE_S).status_code
        for host in ("board.example", "127.0.0.1", "elsewhere.example")
    ]
    assert found == [200, 200, 421]


def test_serve_follows_a_plan_that_ends_past_its_own_limit(start: Start, sortie: Path):
    """With a warning; the state says by how much."""
    (sortie / "plan.toml").write_text(LATE_PLAN, encoding="utf-8")
    process, url = start("serve", sortie / "plan.toml", "--port", "0")
    shown = state_of(url)
    assert shown["end"]["margin_min"] == shown["limit"]["pet_min"] - 660 < -240
    _, errors = process.stop()
    assert [line.split(":")[0] for line in errors.splitlines()] == ["warning"]


@pytest.mark.parametrize("command", ["serve", "replay"])
def test_ctrl_c_ends_it_quietly_with_a_screen_open(start_process: StartProcess, sortie: Path, command: str):
    """Exit code 0, nothing on standard error, while a client is connected."""
    what = sortie / "plan.toml" if command == "serve" else sortie / "run-1.jsonl"
    process, url = start_process(command, what, "--port", "0", *([] if command == "serve" else ["--no-browser"]))
    with connect(url.replace("http", "ws") + "/api/live") as client:
        client.recv(timeout=DEADLINE_S)
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=DEADLINE_S)
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


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--host", "nowhere.invalid"), "option --host"),
        (("--host", ""), "option --host"),
        (("--host", "192.0.2.1"), "not an address of this computer"),
        (("--log-key", ""), "the log key"),
        (("--log-key", "two words"), "the log key"),
        (("--log-key", "same", "--lead-key", "same"), "the lead key"),
        (("--store", "nonsense"), "event store"),
    ],
)
def test_serving_with_wrong_options_is_refused(sortie: Path, options: tuple[str, ...], says: str):
    """Before any server starts."""
    assert_bad_input(tetherline("serve", sortie / "plan.toml", "--port", "0", "--no-browser", *options), says)


DEFER = ("send", "--event", '{"kind": "defer", "tasks": ["T020"]}', "--to")


def test_without_keys_everyone_on_this_computer_is_lead(start: Start, sortie: Path):
    """It is said before the address."""
    process, url = start("serve", sortie / "plan.toml", "--port", "0", "--no-browser")
    assert "Everyone on this computer is lead" in "".join(process.said)
    assert tetherline(*DEFER, url).returncode == 0


def test_with_keys_a_decision_needs_the_lead_key(start: Start, sortie: Path):
    """It is said before the address; `send` takes the key as an option or from the environment."""
    keys = ("--log-key", "k1", "--lead-key", "k2")
    process, url = start("serve", sortie / "plan.toml", "--port", "0", "--no-browser", *keys)
    assert "lead key" in "".join(process.said)
    refused = tetherline(*DEFER, url)
    assert refused.returncode == 2 and "refused: event" in refused.stdout and "lead key" in refused.stdout
    assert tetherline(*DEFER, url, environment={"TETHERLINE_KEY": "k1"}).returncode == 2
    assert tetherline(*DEFER, url, environment={"TETHERLINE_KEY": "k2"}).returncode == 0
    assert tetherline(*DEFER, url, "--key", "k2").returncode == 0


def test_serve_follows_several_sources_and_names_them(start_process: StartProcess, sortie: Path):
    """A file and standard input; what they bring is in the log, by their names."""
    (sortie / "crew.jsonl").write_text('{"kind": "note", "text": "from a file"}\n', encoding="utf-8")
    process, url = start_process(
        "serve", sortie / "plan.toml", "--port", "0", "--no-browser", "--follow", sortie / "crew.jsonl", "--follow", "-",
        stdin=subprocess.PIPE,
    )  # fmt: skip
    assert "Follows crew.jsonl and standard input: may enter everything.\n" in process.said
    process.stdin.write('{"kind": "note", "text": "from a pipe"}\n')
    process.stdin.flush()

    def noted() -> set[tuple[str, str]]:
        return {(row["by"], row["text"]) for row in httpx.get(f"{url}/api/events", **LOCAL, timeout=DEADLINE_S).json()}

    wanted = {("crew.jsonl", "from a file"), ("standard input", "from a pipe")}
    until(lambda: noted() == wanted, "both notes")
    process.send_signal(signal.SIGINT)
    _, errors = process.communicate(timeout=30)
    assert (process.returncode, errors) == (0, "")


@pytest.mark.parametrize("source", ["nowhere/log.jsonl", "ftp://h/x", "mqtt://h"])
def test_serve_refuses_what_cannot_be_followed(sortie: Path, source: str):
    """Before any server starts."""
    done = tetherline("serve", sortie / "plan.toml", "--port", "0", "--no-browser", "--follow", source)
    assert_bad_input(done, "option --follow")


def test_with_log_json_every_line_on_standard_error_is_an_object(start: Start, sortie: Path):
    """What is in order is written too: the start, what came in, a feed that is lost, the end."""
    feed = ("--follow", sortie / "crew.jsonl")
    process, url = start("serve", sortie / "plan.toml", "--port", "0", "--no-browser", "--log-json", *feed)
    assert tetherline("send", "--to", url, "--event", '{"kind": "note", "text": "a"}').returncode == 0
    until(lambda: httpx.get(f"{url}/health", **LOCAL).json()["feeds"][0]["standing"] != "fresh", "the loss")
    _, errors = process.stop()
    told = [json.loads(line) for line in errors.splitlines()]
    assert all({"time", "level", "logger", "message"} <= set(one) for one in told)
    said = [one["message"] for one in told]
    assert f"Serving at {url}." in said and said[-1] == "The server has stopped."
    assert [one["outcomes"] for one in told if "outcomes" in one] == [{"recorded": 1}]
    assert any(one["level"] == "warning" and "Feed crew.jsonl is lost" in one["message"] for one in told)


def test_a_replay_writes_its_log_as_json_too(start: Start, sortie: Path):
    """With the same option as a live sortie."""
    process, url = start("replay", sortie / "run-1.jsonl", "--port", "0", "--no-browser", "--log-json")
    _, errors = process.stop()
    said = [json.loads(line)["message"] for line in errors.splitlines()]
    assert f"Serving at {url}." in said and said[-1] == "The server has stopped."


@pytest.mark.parametrize(("options", "address"), [((), "127.0.0.1"), (("--proxy", "127.0.0.0/8"), "203.0.113.9")])
def test_only_a_proxy_that_is_named_says_who_sends(start: Start, sortie: Path, options: tuple[str, ...], address: str):
    """Anyone on this computer could otherwise enter a refusal in the name of another address, and lock that one out."""
    audit = sortie / "audit.jsonl"
    serves = ("serve", sortie / "plan.toml", "--port", "0", "--no-browser", "--log-key", "log-key-1", "--audit", audit)
    _, url = start(*serves, *options)
    headers = {"Authorization": "Bearer wrong", "X-Forwarded-For": "203.0.113.9"}
    httpx.post(f"{url}/api/events", json={"kind": "note", "text": "x"}, headers=headers, **LOCAL, timeout=DEADLINE_S)
    assert {json.loads(line)["address"] for line in audit.read_text(encoding="utf-8").splitlines()} == {address}


@pytest.mark.parametrize("given", ["proxy.example", "*", "127.0.0.1:80", ""])
def test_a_proxy_is_an_address_or_a_network(sortie: Path, given: str):
    """Any other word is refused before the server starts."""
    assert_bad_input(tetherline("serve", sortie / "plan.toml", "--port", "0", "--proxy", given), "option --proxy")
