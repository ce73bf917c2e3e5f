"""How long recorded runs take: scoring one, scoring many over two processes against one, learning from many."""

from __future__ import annotations

import multiprocessing
import os
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor

from dashboard.core.events.kinds import parse_event
from dashboard.core.plan.model import Plan
from replay.conditions import Conditions
from replay.learn import cross_validated, fit, observations
from replay.moments import score_run
from replay.recording import RecordedRun, recorded
from replay.score import score_all
from replay.simulate import simulate
from tests.bench.make import plan_table
from tests.bench.measure import Measured, timed

TASKS, EVENTS, RUNS = 60, 300, int(os.environ.get("TETHERLINE_BENCH_RUNS", "200"))


def measure() -> Iterator[Measured]:
    """One run of 300 events at every event; many runs in one and two processes; learning and leaving one out."""
    plan = Plan.model_validate(plan_table(TASKS))
    long = run_of_events(plan, EVENTS)
    yield timed(f"score one run, {len(long.events)} events, {long_h(long):.1f} h", lambda: score_run(long, "r"), 3)
    short = Plan.model_validate(plan_table(16))
    runs = [(f"r{i}", run(short, i)) for i in range(RUNS)]
    yield once(f"score {RUNS} runs of 16 tasks, one process", lambda: score_all(runs))
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as pool:
        score_all(runs[:2], pool)
        yield once(f"score {RUNS} runs of 16 tasks, two processes", lambda: score_all(runs, pool))
    many = [(f"r{i}", run(plan, i)) for i in range(RUNS)]
    yield timed(f"learn from {RUNS} runs of {TASKS} tasks", lambda: fit(observations(many)), 3)
    seen = observations(many)
    yield once(f"leave one of {RUNS} runs out in turn, {len(seen):,} tasks", lambda: cross_validated(seen))


def once(what: str, work: Callable[[], object]) -> Measured:
    """Long work, done once."""
    began_s = time.perf_counter()
    work()
    return Measured(what, [time.perf_counter() - began_s])


def run(plan: Plan, number: int) -> RecordedRun:
    """One simulated run."""
    made = simulate(plan, Conditions(troubles={"late": 1.0}), 9, number)
    return recorded(plan, made.events, header={"setting": "simulated"})


def run_of_events(plan: Plan, events: int) -> RecordedRun:
    """A simulated run, filled up with notes between its events to so many of them."""
    made = run(plan, 0).events
    notes = []
    while len(made) + len(notes) < events:
        before = made[1 + len(notes) * (len(made) - 2) // max(1, events - len(made))]
        table = {"id": f"n{len(notes)}", "at": before.at, "received": before.received, "kind": "note", "text": "x"}
        notes.append(parse_event(table).model_copy(update={"received": before.received.replace(microsecond=len(notes) + 1)}))
    return recorded(plan, [*made, *notes], header={"setting": "simulated"})


def long_h(run: RecordedRun) -> float:
    """Hours from its beginning to its end."""
    return (run.last - run.first).total_seconds() / 3600
