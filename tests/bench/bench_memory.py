"""Whether a server stays as it is: an hour of replay at 60 times the speed, and a week in which nothing is entered.

    python -m tests.bench memory

A desk with its advice and its trials makes one cycle after another, as its own thread does, while its clock is set on by
hand: nothing is waited for. The replay takes a cycle each second and not four, the week one every two minutes and not every two
seconds. Printed is the memory of the desk's own process after the first tenth of the cycles and at the end; the rows of the
table say what the cycles took.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from dashboard.core.base.times import parse_instant
from dashboard.log.store import EventStore
from dashboard.service.compute import AdvisedCompute
from dashboard.service.desk import Desk
from dashboard.service.session.clock import LiveClock
from dashboard.service.session.live import LiveSession
from dashboard.service.session.replay import ReplaySession
from dashboard.service.trial.process import TrialProcess
from dashboard.service.trial.sieve import Sieve
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


def memory_mb() -> float:
    """What this process holds now, in megabytes."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1e6


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
    compute = AdvisedCompute()
    desk = Desk(session, compute=compute, sieve=Sieve(TrialProcess(session.plan)), on_close=compute.close)
    took_s: list[float] = []
    early_mb = 0.0
    try:
        for number in range(cycles):
            step(number)
            began_s = time.perf_counter()
            snapshot = desk.cycle()
            took_s.append(time.perf_counter() - began_s)
            if snapshot.trouble:
                raise RuntimeError(snapshot.trouble)
            if number == cycles // 10:
                early_mb = memory_mb()
            if number % TOLD_EVERY == 0:
                print(f"{what}: cycle {number:,} of {cycles:,}, {memory_mb():.0f} MB", file=sys.stderr, flush=True)
        print(f"{what}: {cycles:,} cycles, {early_mb:.0f} MB after a tenth, {memory_mb():.0f} MB at the end", flush=True)
    finally:
        desk.close()
    yield Measured(f"{what}, each cycle", took_s)
