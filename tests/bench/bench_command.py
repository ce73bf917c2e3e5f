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
    """`tetherline --help`, and `tetherline state` at the size of a sortie."""
    with tempfile.TemporaryDirectory() as folder:
        plan, log = write_sortie(Path(folder), 60, 300)
        yield timed("tetherline --help, whole process", lambda: _run("--help"), 7)
        yield timed(
            "tetherline state, 60 tasks, 300 events, whole process", lambda: _run("state", plan, log), 7
        )


def _run(*arguments: str | Path) -> None:
    command = [sys.executable, "-m", "dashboard.cli", *map(str, arguments)]
    subprocess.run(command, check=True, capture_output=True)
