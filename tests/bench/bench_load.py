"""Load: many viewers, many events a second, a long log; beside it an empty websocket that sends messages of the same size.

    python -m tests.bench.bench_load --seconds 25                      # short
    python -m tests.bench.bench_load --seconds 300                     # 200 viewers, 20 events a second
    python -m tests.bench.bench_load --seconds 60 --events 20000       # a log of 20,000 events before the first viewer

Measured for each event and each viewer: from its acknowledgement to the sender until the bytes of a message that shows it
are at the viewer. The floor is measured right after it: `echo.py` sends messages of the same size to as many viewers, as
often as the board did. Printed are both, memory and processor time of each process, and the time until the first state.
"""

from __future__ import annotations

import argparse
import http.client
import json
import math
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlsplit

import httpx
import numpy as np

from dashboard.log.store import EventStore
from tests.bench.load.processes import Used, load, used_by
from tests.bench.load.viewers import probe
from tests.bench.make import write_sortie, zero_that_ends_now
from tests.bench.measure import Measured
from tests.bench.server import serving_module, serving_process
from tests.local import LOCAL

TASKS, EVENTS, VIEWERS, RATE, SECONDS = 60, 300, 200, 20.0, 25.0
ECHO_S, SETTLE_S, WARM_UP = 15.0, 3.0, 20
SENDERS = 16


class Run(NamedTuple):
    """What came of one run: seconds from acknowledged to seen, of each viewer and probe; and what the viewers received."""

    seen_s: np.ndarray
    answers_s: list[float]
    messages: int
    message_bytes: float
    took_s: float
    lost: int

    @property
    def per_viewer_s(self) -> float:
        """Messages a second at one viewer."""
        return self.messages / len(self.seen_s) / self.took_s


def measure() -> Iterator[Measured]:
    """The short form, for the table of all benches."""
    board, echo, first_s, _ = loaded(TASKS, EVENTS, VIEWERS, RATE, SECONDS)
    yield Measured("load: until the first state", [first_s])
    for name, run in (("board", board), ("echo", echo)):
        yield Measured(f"load: acknowledged to seen, {name}", run.seen_s[~np.isnan(run.seen_s)].tolist())


def loaded(
    tasks: int, events: int, viewers: int, rate: float, seconds: float
) -> tuple[Run, Run, float, tuple[dict[int, Used], dict[int, Used]]]:
    """The run of the board, that of the echo, seconds until the first state, and what the processes used at start and end."""
    with tempfile.TemporaryDirectory() as folder:
        plan, store = _sortie(Path(folder), tasks, events)
        began_s = time.monotonic()
        with serving_process("serve", plan, "--store", store, "--no-browser") as (url, process):
            first_s = _first_state(url, began_s)
            with _viewing(url, "/api/live?changes=1", viewers, seconds, rate) as watch:
                time.sleep(SETTLE_S)
                before = used_by(process.pid)
                answered = _send(url, seconds, rate, _row)
                after = used_by(process.pid)
            board = watch(answered, seconds)
            with httpx.Client(**LOCAL, timeout=60) as client:
                client.get(f"{url}/api/state").raise_for_status()
        with serving_module("tests.bench.load.echo") as url:
            text = "x" * round(board.message_bytes)
            often = max(board.per_viewer_s, 0.5)
            with _viewing(url, "/", viewers, ECHO_S, often) as watch:
                time.sleep(SETTLE_S)
                answered = _send(url, ECHO_S, often, lambda number: (probe(number) + text).encode())
            echo = watch(answered, ECHO_S)
    return board, echo, first_s, (before, after)


def _sortie(folder: Path, tasks: int, events: int) -> tuple[Path, str]:
    """A plan that began so long ago that its log ends now, and the store with that log."""
    plan, log_file = write_sortie(folder, tasks, events, zero_that_ends_now(tasks, events))
    url = f"sqlite:///{folder / 'sortie.db'}"
    store = EventStore(url, f"bench-{tasks}")
    rows = [json.loads(line) for line in log_file.read_text(encoding="utf-8").splitlines()]
    store.append([{key: value for key, value in row.items() if key != "seq"} for row in rows], datetime.now(UTC))
    store.close()
    return plan, url


def _first_state(url: str, began_s: float) -> float:
    """Seconds from the start of the command until it has a state."""
    with httpx.Client(**LOCAL, timeout=120) as client:
        while client.get(f"{url}/api/state").status_code != 200:
            time.sleep(0.02)
    return time.monotonic() - began_s


def _row(number: int) -> bytes:
    """An event as a room writes it down, with its probe."""
    note = probe(number)
    kinds: list[dict[str, Any]] = [
        {"kind": "note", "text": note},
        {"kind": "reading", "suit": "SEV1", "oxygen": round(1.19 - number * 1e-5, 5), "note": note},
        {"kind": "estimate", "task": "T0000", "remaining": 5, "note": note},
    ]
    return json.dumps(kinds[number % 3 if number % 7 else 0]).encode()


def _send(url: str, seconds: float, rate: float, row: Callable[[int], bytes]) -> list[tuple[float, float]]:
    """Send events at a steady rate, whether or not earlier ones were answered; when each was sent and acknowledged."""
    count = math.ceil(seconds * rate)
    answered: list[tuple[float, float]] = [(math.nan, math.nan)] * count
    address, local = urlsplit(url).netloc, threading.local()
    began_s = time.monotonic()

    def send(number: int) -> None:
        if not hasattr(local, "connection"):
            local.connection = http.client.HTTPConnection(address, timeout=120)
        sent_s = time.monotonic()
        local.connection.request("POST", "/api/events", row(number), {"Content-Type": "application/json"})
        answer = local.connection.getresponse()
        body = answer.read()
        if answer.status != 200:
            raise RuntimeError(f"expected an acknowledgement; found {answer.status}: {body[:300]!r}")
        answered[number] = (sent_s, time.monotonic())

    with ThreadPoolExecutor(SENDERS) as senders:
        sending = []
        for number in range(count):
            time.sleep(max(0.0, began_s + number / rate - time.monotonic()))
            sending.append(senders.submit(send, number))
        for one in sending:
            one.result()
    return answered


Watch = Callable[[list[tuple[float, float]], float], Run]


@contextmanager
def _viewing(url: str, path: str, viewers: int, seconds: float, rate: float) -> Iterator[Watch]:
    """Viewers in a process of their own while inside; what is given makes a run of what they saw, afterwards."""
    where = urlsplit(url)
    probes = math.ceil(seconds * rate)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "seen.npy"
        words = [str(one) for one in (where.hostname, where.port, path, viewers, probes, file)]
        process = subprocess.Popen(
            [sys.executable, "-m", "tests.bench.load.viewers", *words],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )
        assert process.stdin is not None and process.stdout is not None
        found: dict[str, Any] = {}

        def run(answered: list[tuple[float, float]], took_s: float) -> Run:
            acknowledged_s = np.array([at for _, at in answered])
            return Run(
                (found["seen"] - acknowledged_s)[:, WARM_UP:], [at - sent for sent, at in answered][WARM_UP:],
                found["messages"], found["bytes"] / max(found["messages"], 1), took_s, found["lost"],
            )

        try:
            if process.stdout.readline().strip() != "ready":
                raise RuntimeError("the viewers did not connect")
            yield run
            time.sleep(SETTLE_S)
            process.stdin.write("\n")
            process.stdin.flush()
            found.update(json.loads(process.stdout.readline()))
            found["seen"] = np.load(file)
        finally:
            process.kill()
            process.communicate()


def _percentiles(what: str, readings_s: np.ndarray | Sequence[float]) -> str:
    readings = np.asarray(readings_s)
    known = readings[~np.isnan(readings)] * 1000
    if not len(known):
        return f"{what}: none"
    p50, p95, p99 = np.percentile(known, (50, 95, 99))
    return f"{what:<44}{len(known):>9}  p50 {p50:8.1f}  p95 {p95:8.1f}  p99 {p99:8.1f}  max {known.max():8.1f} ms"


def report(board: Run, echo: Run, first_s: float, used: tuple[dict[int, Used], dict[int, Used]]) -> str:
    """Everything that was measured, in words."""
    before, after = used
    above_ms = 1000 * (np.nanpercentile(board.seen_s, 95) - np.nanpercentile(echo.seen_s, 95))
    lines = [
        f"first state after {first_s:.1f} s; {load()}",
        _percentiles("sent to acknowledged", board.answers_s),
        _percentiles("acknowledged to seen", board.seen_s),
        _percentiles("the same, empty echo", echo.seen_s),
        f"p95 above the echo: {above_ms:.0f} ms",
        f"never seen: board {np.isnan(board.seen_s).sum()}, echo {np.isnan(echo.seen_s).sum()}; "
        f"connections lost: {board.lost} and {echo.lost}",
        f"at each viewer {board.per_viewer_s:.1f} messages a second of {board.message_bytes / 1000:.0f} kB "
        f"(echo {echo.per_viewer_s:.1f} of {echo.message_bytes / 1000:.0f} kB)",
    ]
    for pid, end in after.items():
        start = before.get(pid, Used(end.name, 0.0, math.nan))
        share = (end.processor_s - start.processor_s) / board.took_s
        lines.append(f"{end.name:<62} memory {start.memory_mb:6.0f} to {end.memory_mb:6.0f} MB, processor {share:6.1%}")
    gone = sum(one.processor_s for pid, one in before.items() if pid not in after)
    lines.append(f"processes that ended meanwhile: {len(before.keys() - after.keys())} ({gone:.1f} s before)")
    return "\n".join(lines)


def main() -> None:
    """Run with the sizes given."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=SECONDS)
    parser.add_argument("--events", type=int, default=EVENTS, help="in the log before the first viewer comes")
    parser.add_argument("--viewers", type=int, default=VIEWERS)
    parser.add_argument("--rate", type=float, default=RATE, help="events a second")
    parser.add_argument("--tasks", type=int, default=TASKS)
    given = parser.parse_args()
    print(f"{given.viewers} viewers, {given.rate:g} events a second for {given.seconds:g} s, {given.events} events before")
    print(report(*loaded(given.tasks, given.events, given.viewers, given.rate, given.seconds)))


if __name__ == "__main__":
    main()
