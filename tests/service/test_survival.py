"""What survives the end of the server: a restart, and a kill without warning."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest

from dashboard.core.plan.model import Plan
from dashboard.log.store import EventStore
from dashboard.service.desk import Desk
from dashboard.service.session.live import LiveSession
from tests.local import LOCAL
from tests.scenario import LANES, SORTIE
from tests.service.conftest import PLAN, Room, StandingClock, event, message
from tests.waiting import DEADLINE_S

SERVER = """
import sys
from pathlib import Path
from dashboard.log.planfile import load_plan
from dashboard.service.http.api import make_api
from dashboard.service.opening import live_desk
from dashboard.service.serving import address_of, listening_socket, serve
sock = listening_socket("127.0.0.1", 0)
desk = live_desk(load_plan(Path(sys.argv[1])), sys.argv[2])
serve(make_api(desk), sock, when_up=lambda: print(address_of(sock), flush=True))
"""


def test_a_restart_with_the_same_store_gives_the_same_state(
    plan: Plan, store_url: str, serve_desk: Callable[[Desk], object]
):
    """Nothing of the state lives in the process; only the boot is new."""
    clock = StandingClock(40)
    seen, boots = [], []
    for turn in range(2):
        room = Room(serve_desk(Desk(LiveSession(plan, EventStore(store_url), clock))).url)
        if turn == 0:
            room.send(
                event("clock", 0),
                event("start", 2, task="T010"),
                event("dance", 3),
                event("start", 5, task="T9"),
            )
            room.send(event("done", 36, task="T010"), event("hold", 38, task="T030"))
        seen.append(room.state())
        with room.live() as client:
            boots.append(message(client)["boot"])
    assert seen[1] == seen[0]
    assert boots[1] != boots[0]


@pytest.fixture
def start_server(tmp_path: Path, store_url: str):
    """A server in a process of its own, on the same store each time."""
    plan_file = tmp_path / "plan.toml"
    plan_file.write_text(f"[sortie]\n{SORTIE}\n{LANES}\n{PLAN}", encoding="utf-8")
    processes: list[subprocess.Popen[str]] = []

    def start() -> tuple[subprocess.Popen[str], str]:
        command = [sys.executable, "-c", SERVER, str(plan_file), store_url]
        processes.append(subprocess.Popen(command, stdout=subprocess.PIPE, text=True))
        assert (line := processes[-1].stdout.readline()), "the server did not start"
        return processes[-1], re.match(r"http://\S+", line).group()

    yield start
    for process in processes:
        process.kill()
        process.wait()
        process.stdout.close()


def test_a_kill_loses_no_acknowledged_event(start_server: Callable):
    """Killed while events pour in: every event that was acknowledged is there after the restart."""
    process, url = start_server()
    acknowledged: list[str] = []
    enough = threading.Event()

    def pour() -> None:
        with httpx.Client(base_url=url, **LOCAL) as client:
            for number in range(100_000):
                try:
                    answer = client.post("/api/events", json=event("note", 1, id=f"n{number}", text="x"))
                except httpx.TransportError:
                    return
                acknowledged.extend(o["id"] for o in answer.json()["outcomes"] if o["status"] == "recorded")
                if len(acknowledged) >= 20:
                    enough.set()

    sender = threading.Thread(target=pour)
    sender.start()
    assert enough.wait(DEADLINE_S)
    os.kill(process.pid, signal.SIGKILL)
    sender.join(DEADLINE_S)
    _, url = start_server()
    kept = {row["id"] for row in Room(url).http.get("/api/events").json()}
    assert len(acknowledged) >= 20
    assert set(acknowledged) <= kept
