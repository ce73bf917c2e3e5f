"""`tetherline send`: events on their way to a server."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import threading
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import httpx
import pytest

from tests.command import (
    assert_bad_input,
    tetherline,
    written,
)
from tests.local import LOCAL
from tests.serving import Start
from tests.waiting import DEADLINE_S


def test_send_a_file_prints_an_outcome_a_line(server: str, sortie: Path):
    """Sent again, everything is there already."""
    for word in ("recorded", "already recorded"):
        done = tetherline("send", "--to", server, sortie / "run-1.jsonl")
        assert (done.returncode, done.stderr) == (0, "")
        assert [line.split(":")[0] for line in done.stdout.splitlines()] == [word] * 5
    kept = [row["id"] for row in httpx.get(f"{server}/api/events", **LOCAL, timeout=DEADLINE_S).json()]
    assert [kept.count(f"e{number}") for number in range(1, 6)] == [1] * 5


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
    process.communicate(timeout=DEADLINE_S)
    assert process.returncode == 0


def test_a_batch_too_large_for_one_request_is_sent_in_parts(server: str, tmp_path: Path):
    """Sixty events of 20 kB each are more than a megabyte."""
    file = tmp_path / "large.jsonl"
    line = json.dumps({"kind": "note", "text": "x" * 20_000})
    file.write_text(f"{line}\n" * 60, encoding="utf-8")
    done = tetherline("send", "--to", server, file)
    assert done.returncode == 0
    assert len(done.stdout.splitlines()) == 60


def test_send_tries_again_when_the_server_comes_back(start: Start, plan: Path, monkeypatch: pytest.MonkeyPatch):
    """The connection is lost at first; the event arrives all the same, once. The server comes back in the second pause."""
    process, url = start("serve", plan, "--port", "0")
    process.stop()
    pauses: list[float] = []

    def pause(seconds: float) -> None:
        pauses.append(seconds)
        if len(pauses) == 2:
            start("serve", plan, "--port", url.rsplit(":", 1)[1].rstrip("/"))

    monkeypatch.setattr("dashboard.cli.send.time", SimpleNamespace(sleep=pause))
    done = tetherline("send", "--to", url, "--event", '{"kind": "note", "text": "x"}')
    assert done.returncode == 0, done.stderr
    assert len(pauses) == 2 and pauses[0] < pauses[1]
    assert len(httpx.get(f"{url}/api/events", **LOCAL, timeout=DEADLINE_S).json()) == 1


def test_send_gives_up_in_the_end(monkeypatch: pytest.MonkeyPatch):
    """A bounded number of tries, then exit code 2 with what to do."""
    monkeypatch.setattr("dashboard.cli.send.time", SimpleNamespace(sleep=lambda seconds: None))
    done = tetherline(
        "send", "--to", "http://127.0.0.1:9", "--tries", "2", "--event", '{"kind": "note", "text": "x"}'
    )
    assert_bad_input(done, "2 tries", "--to")


class Unavailable(BaseHTTPRequestHandler):
    """Answers 503 as often as it is told, then takes what comes."""

    times, wishes = 0, ""

    def do_POST(self) -> None:
        self.rfile.read(int(self.headers["Content-Length"]))
        is_back = type(self).times == 0
        type(self).times -= 1
        problem = {"subject": "event store", "expected": "a store", "found": "none", "cure": "Wait.", "where": ""}
        outcome = {"status": "recorded", "id": "e1", "seq": 1, "why": None, "hint": None, "did": None}
        body = json.dumps({"outcomes": [outcome]} if is_back else {"problems": [problem]}).encode()
        self.send_response(200 if is_back else 503)
        if not is_back and self.wishes:
            self.send_header("Retry-After", self.wishes)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *arguments: Any) -> None:
        """Say nothing."""


@pytest.mark.parametrize(
    ("times", "wishes", "word", "pauses_s"),
    [
        (2, "3", "recorded", [3, 3]), (1, "86400", "recorded", [30]), (9, "1", "refused", [1, 1]),
        (1, "", "refused", []), (1, "Fri, 31 Dec 2031 23:59:59 GMT", "refused", []),
    ],
)  # fmt: skip
def test_a_server_that_wants_to_be_asked_again_is(
    monkeypatch: pytest.MonkeyPatch, times: int, wishes: str, word: str, pauses_s: list[float]
):
    """After the time that it names, within bounds; the event has an id, and is recorded once."""
    slept: list[float] = []
    monkeypatch.setattr("dashboard.cli.send.time", SimpleNamespace(sleep=slept.append))
    monkeypatch.setattr(Unavailable, "times", times)
    monkeypatch.setattr(Unavailable, "wishes", wishes)
    server = HTTPServer(("127.0.0.1", 0), Unavailable)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    to = f"http://127.0.0.1:{server.server_port}"
    done = tetherline("send", "--to", to, "--tries", "3", "--event", '{"kind": "note", "text": "x"}')
    server.shutdown()
    server.server_close()
    assert done.stdout.startswith(word) and slept == pauses_s


def test_a_server_that_does_not_answer_is_told_in_words():
    """One try is not "1 tries", no number of an error is shown, and the next step is a command."""
    done = tetherline("send", "--to", "http://127.0.0.1:9", "--tries", "1", "--event", '{"kind": "note", "text": "x"}')
    assert_bad_input(done, "server http://127.0.0.1:9: ", "none after 1 try (connection refused)", "`tetherline serve PLAN`")


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


@pytest.mark.parametrize("content", ["", "\n \n"])
def test_sending_nothing_is_said_and_is_no_success(sortie: Path, content: str):
    """An empty file, or nothing on standard input."""
    done = tetherline("send", written(sortie, "empty.jsonl", content), "--to", "http://127.0.0.1:9")
    assert_bad_input(done, "empty.jsonl", "Nothing was sent")
    assert_bad_input(tetherline("send", "-", "--to", "http://127.0.0.1:9", stdin=content), "Nothing was sent")


@pytest.mark.parametrize("text", ["{", "", "[1]", "NaN", '{"kind": "note"} x'])
def test_an_event_that_is_none_says_what_one_is(text: str):
    """With an example, before any connection."""
    done = tetherline("send", "--event", text, "--to", "http://127.0.0.1:9", "--tries", "1")
    assert (done.returncode, done.stderr) == (2, "")
    assert done.stdout.startswith("refused: event: expected one JSON object") and "for instance" in done.stdout


def test_a_key_that_cannot_be_sent_is_refused():
    """Before any connection."""
    assert_bad_input(tetherline("send", "--event", "{}", "--key", "é", "--to", "http://127.0.0.1:9"), "--key")


def test_send_takes_a_pet_and_says_what_the_entry_did(start: Start, plan: Path):
    """In one line: that it does not fit, why, and what takes it back, which can be sent as it stands."""
    _, server = start("serve", plan, "--port", "0", "--no-browser")
    tetherline("send", "--to", server, "--event", '{"kind": "clock", "at": "2031-04-12T09:10:00Z"}')
    done = tetherline("send", "--to", server, "--event", '{"id": "d", "kind": "done", "task": "T010"}', "--pet", "0:48")
    assert done.returncode == 0 and done.stdout.startswith("recorded: event, seq 2, id d; ")
    (row,) = [row for row in httpx.get(f"{server}/api/events", **LOCAL, timeout=DEADLINE_S).json() if row["id"] == "d"]
    assert row["at"] == "2031-04-12T09:58:00Z"
    assert "does not fit: expected " in done.stdout
    (back,) = re.findall(r"to take it back: tetherline send --event '(.*)'", done.stdout)
    assert json.loads(back) == {"kind": "withdraw", "event": "d"}
    assert tetherline("send", "--to", server, "--event", back).stdout.startswith("recorded: ")


@pytest.mark.parametrize(
    ("arguments", "found"),
    [
        (["--event", '{"kind": "note", "text": "x"}', "--pet", "half past"], "'half past'"),
        (["--event", '{"kind": "note", "text": "x", "at": "0:10"}', "--pet", "0:48"], "'at' '0:10'"),
        (["log.jsonl", "--pet", "0:48"], "a file"),
    ],
)
def test_send_refuses_a_pet_that_makes_no_sense(arguments: list[str], found: str):
    """With what to do; nothing is sent."""
    assert_bad_input(tetherline("send", "--to", "http://127.0.0.1:1", *arguments), found)
