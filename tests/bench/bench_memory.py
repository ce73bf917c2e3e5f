"""Whether a server stays as it is: an hour of replay at 60 times the speed, and a week in which nothing is entered.

    python -m tests.bench memory

A desk with its processes for advice and trials, as a server opens it, makes one cycle after another, as its own thread does,
while its clock is set on by hand: nothing is waited for. The replay takes a cycle each second and not four, the week one every
two minutes and not every two seconds. Printed is the memory of the desk's own process, and of the processes beside it, after the
first tenth of the cycles and at the end; the rows of the table say what the cycles took.
"""

from __future__ import annotations

import os
import resource
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from dashboard.core.base.times import parse_instant
from dashboard.log.store import EventStore
from dashboard.service.opening import opened
from dashboard.service.session.clock import LiveClock
from dashboard.service.session.live import LiveSession
from dashboard.service.session.replay import ReplaySession
from replay.recording import load_run, packaged_scenarios
from tests.bench.measure import Measured

REPLAY_CYCLES = 3600
WEEK_CYCLES = 7 * 24 * 30
TOLD_EVERY = 500


class SetClock(LiveClock):
    """The time of day as it was set."""

    def __init__(self, at: datetime) -> None:
        self.at = at

    def now(self) -> datetime:
        """The instant that was set last."""
        return self.at


def memory_mb(process: str = "self") -> float:
    """What a process holds now, in megabytes; 0 when it has ended."""
    try:
        pages = int(Path(f"/proc/{process}/statm").read_text().split()[1])
    except (OSError, IndexError):
        return 0.0
    return pages * resource.getpagesize() / 1e6


def beside_mb() -> float:
    """What all processes hold that this one started, in megabytes."""
    parents = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                parents[entry.name] = (entry / "stat").read_text().rpartition(")")[2].split()[1]
            except OSError:
                continue
    found, own = 0.0, {str(os.getpid())}
    while own:
        own = {process for process, parent in parents.items() if parent in own}
        found += sum(memory_mb(process) for process in own)
    return found


def held() -> str:
    """The memory of this process and of those beside it, in words."""
    return f"{memory_mb():.0f} MB and {beside_mb():.0f} MB beside"


def measure() -> Iterator[Measured]:
    """Seconds of each cycle in both cases; the memory is printed."""
    run = load_run(next(iter(packaged_scenarios().values())))
    replay = ReplaySession(run, playing=False)

    def step(number: int) -> None:
        length_s = (run.last - run.pet_zero_known).total_seconds()
        replay.clock.seek(run.pet_zero_known + timedelta(minutes=number) % timedelta(seconds=length_s))

    yield from _flat("an hour of replay at 60 times the speed", replay, step, REPLAY_CYCLES)
    with tempfile.TemporaryDirectory() as folder:
        store = EventStore(f"sqlite:///{folder}/week.sqlite", run.plan.sortie.id)
        zero = parse_instant("2031-04-12T09:10:00Z").astimezone(UTC)
        clock = SetClock(zero + timedelta(minutes=30))
        store.append([{"kind": "clock", "at": zero.isoformat()}], clock.now())
        week = LiveSession(run.plan, store, clock)

        def wait(number: int) -> None:
            clock.at += timedelta(minutes=2)

        yield from _flat("a week in which nothing is entered", week, wait, WEEK_CYCLES)


def _flat(
    what: str, session: ReplaySession | LiveSession, step: Callable[[int], None], cycles: int
) -> Iterator[Measured]:
    desk = opened(session)
    took_s: list[float] = []
    early = ""
    try:
        for number in range(cycles):
            step(number)
            began_s = time.perf_counter()
            snapshot = desk.cycle()
            took_s.append(time.perf_counter() - began_s)
            if snapshot.trouble:
                raise RuntimeError(snapshot.trouble)
            if number == cycles // 10:
                early = held()
            if number % TOLD_EVERY == 0:
                print(f"{what}: cycle {number:,} of {cycles:,}, {held()}", file=sys.stderr, flush=True)
        print(f"{what}: {cycles:,} cycles, {early} after a tenth, {held()} at the end", flush=True)
    finally:
        desk.close()
    yield Measured(f"{what}, each cycle", took_s)
