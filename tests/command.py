"""Running the command as a person would."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import httpx
import pytest

from dashboard.cli.main import main
from tests.local import LOCAL
from tests.scenario import SORTIE, TWO_IN_SUITS, suit, task

OXYGEN = {"loaded": 0.55, "reserve": 0.09}
PLAN = (
    f"[sortie]\n{SORTIE}\n{TWO_IN_SUITS}"
    + suit("A", oxygen=OXYGEN)
    + suit("B", oxygen=OXYGEN)
    + task("T010", "EV1", 0, 30, title="Unstow pump")
    + task("T020", "EV1", 30, [20, 30, 50], title="Carry pump")
    + task("T030", "EV2", 0, 60, title="Prepare tray")
    + task("T040", "EV1 EV2", 60, 90, title="Swap tray", after=["T020", "T030"])
)

LATE_PLAN = PLAN.replace("duration = 90", "duration = 600")  # its last task ends at PET 11:00, the limit is PET 7:00

LOG = """\
{"id": "e1", "at": "2031-04-12T09:10:00Z", "kind": "clock"}
{"id": "e2", "at": "2031-04-12T09:11:00Z", "kind": "start", "task": "T010", "by": "EV1"}
{"id": "e3", "at": "2031-04-12T09:12:00Z", "kind": "start", "task": "T030", "by": "EV2"}
{"id": "e4", "at": "2031-04-12T09:46:00Z", "kind": "done", "task": "T010"}
{"id": "e5", "at": "2031-04-12T09:47:00Z", "kind": "start", "task": "T020"}
"""

ENDED = (
    LOG
    + """\
{"id": "e6", "at": "2031-04-12T10:12:00Z", "kind": "done", "task": "T030"}
{"id": "e7", "at": "2031-04-12T10:15:00Z", "kind": "done", "task": "T020"}
{"id": "e8", "at": "2031-04-12T10:16:00Z", "kind": "start", "task": "T040"}
{"id": "e9", "at": "2031-04-12T11:50:00Z", "kind": "done", "task": "T040"}
{"id": "e10", "at": "2031-04-12T11:51:00Z", "kind": "end"}
"""
)


def tetherline(
    *arguments: str | Path,
    stdin: str | bytes = "",
    environment: dict[str, str] | None = None,
    encoding: str = "utf-8",
) -> subprocess.CompletedProcess[str]:
    """What the command printed, and how it ended; as wide as it is when nobody says, whatever runs the tests.

    It runs here, with streams and an environment of its own: a process for each would import everything anew, which takes
    longer than all else. That it runs as a process is what `tetherline_process` and the tests of serving show.
    """
    given = ["tetherline", *map(str, arguments)]
    out, err = io.BytesIO(), io.BytesIO()
    came_in = stdin if isinstance(stdin, bytes) else stdin.encode()
    with pytest.MonkeyPatch.context() as here:
        here.delenv("COLUMNS", raising=False)
        for name, value in (environment or {}).items():
            here.setenv(name, value)
        here.setattr(sys, "argv", given)
        here.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(came_in), encoding="utf-8"))
        for name, printed in (("stdout", out), ("stderr", err)):
            here.setattr(sys, name, io.TextIOWrapper(printed, encoding=encoding, write_through=True))
        code = 0
        try:
            main()
        except SystemExit as ended:
            code = ended.code if isinstance(ended.code, int) else int(ended.code is not None)
        said = [printed.getvalue().decode("utf-8", "replace") for printed in (out, err)]
    return subprocess.CompletedProcess(given, code, *said)


def tetherline_process(
    *arguments: str | Path, stdin: str | bytes = "", environment: dict[str, str] | None = None, timeout_s: float = 60
) -> subprocess.CompletedProcess[str]:
    """The same in a process of its own, as a person would run it."""
    surroundings = {name: value for name, value in os.environ.items() if name != "COLUMNS"}
    done = subprocess.run(
        [sys.executable, "-m", "dashboard.cli", *map(str, arguments)],
        input=stdin if isinstance(stdin, bytes) else stdin.encode(),
        capture_output=True,
        timeout=timeout_s,
        env={**surroundings, "PYTHONIOENCODING": "utf-8", **(environment or {})},
    )
    out, err = (one.decode("utf-8", "replace") for one in (done.stdout, done.stderr))
    return subprocess.CompletedProcess(done.args, done.returncode, out, err)


def assert_bad_input(done: subprocess.CompletedProcess[str], *says: str) -> None:
    """Refused: exit code 2, and each problem one line with what was expected and found, on standard error."""
    assert done.returncode == 2, done.stdout + done.stderr
    lines = done.stderr.splitlines()
    assert lines
    for line in lines:
        assert ": expected " in line and "; found " in line, line
    assert "Traceback" not in done.stderr
    for word in says:
        assert word in done.stderr


def one_line(text: str) -> str:
    """What was printed, without the breaks of its lines."""
    return " ".join(text.split())


def written(folder: Path, name: str, content: str | bytes) -> Path:
    """A file with this content."""
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def state_of(url: str) -> dict[str, Any]:
    """The first state that a server gives: it answers before it has one."""
    deadline_s = time.monotonic() + 120
    while True:
        answer = httpx.get(f"{url}/api/state", **LOCAL, timeout=60)
        if answer.status_code == 200:
            state: dict[str, Any] = answer.json()
            return state
        assert answer.status_code == 503 and time.monotonic() < deadline_s, answer.text
