"""What a kill without warning costs: acknowledged events that are not there afterwards, of 200 kills on each kind of store."""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from tests.bench.measure import Measured
from tests.log.store.kills import kill_while_appending
from tests.postgres import running

KILLS = 200
SEED = 1


def measure() -> Iterator[Measured]:
    """The counts go to standard error; the table gets the time of each kill with its start and its appends."""
    with tempfile.TemporaryDirectory() as folder:
        yield _killed("SQLite", f"sqlite:///{Path(folder) / 'sortie.db'}")
    with running() as server:
        yield _killed("PostgreSQL", server.new_database())


def _killed(name: str, url: str) -> Measured:
    began_s = time.perf_counter()
    found = kill_while_appending(url, KILLS, SEED)
    took_s = time.perf_counter() - began_s
    print(
        f"{name}: {found.kills} kills, {found.acknowledged} acknowledged events, {len(found.lost)} lost, "
        f"{len(found.twice)} twice, {found.beside} recorded but not acknowledged",
        file=sys.stderr, flush=True,
    )
    return Measured(f"one kill while appending, {name}", [took_s / found.kills])
