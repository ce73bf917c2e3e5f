"""How long the command takes as a whole process."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from tests.bench.make import write_sortie
from tests.bench.measure import Measured, timed


def measure() -> Iterator[Measured]:
    """`tetherline --help`, `tetherline state` at the size of a sortie, and `tetherline check` of a small and a large plan."""
    with tempfile.TemporaryDirectory() as folder:
        plan, log = write_sortie(Path(folder), 60, 300)
        yield timed("tetherline --help, whole process", lambda: _run("--help"), 7)
        yield timed(
            "tetherline state, 60 tasks, 300 events, whole process", lambda: _run("state", plan, log), 7
        )
        yield timed("tetherline check, 60 tasks, whole process", lambda: _run("check", plan), 5)
        large, _ = write_sortie(Path(folder), 2000, 0)
        yield timed("tetherline check, 2,000 tasks, whole process", lambda: _run("check", large), 3)


def _run(*arguments: str | Path) -> None:
    command = [sys.executable, "-m", "dashboard.cli", *map(str, arguments)]
    done = subprocess.run(command, capture_output=True, text=True)
    assert not done.stderr, done.stderr  # a check ends with 2 where it finds errors in the plan
