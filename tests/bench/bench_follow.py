"""How long one state takes: at the size of a sortie, and far beyond it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from dashboard.core.events.kinds import parse_event
from dashboard.core.plan.model import Plan
from dashboard.core.state.follow import follow
from dashboard.service.compute import compute_view
from tests.bench.make import log_rows, plan_table
from tests.bench.measure import Measured, timed

SIZES = ((60, 300, 30), (2_000, 50_000, 5))


def measure() -> Iterator[Measured]:
    """`follow` alone, and a whole cycle with the board, at both sizes."""
    for tasks, events, runs in SIZES:
        table = plan_table(tasks)
        plan = Plan.model_validate(table)
        log = [parse_event(row) for row in log_rows(table, events)]
        now: datetime = log[-1].at
        size = f"{tasks:,} tasks, {events:,} events"
        yield timed(f"follow, {size}", lambda plan=plan, log=log, now=now: follow(plan, log, now), runs)
        yield timed(
            f"state and board, {size}",
            lambda plan=plan, log=log, now=now: compute_view(plan, log, [], now, "live"),
            runs,
        )
