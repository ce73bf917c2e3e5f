"""Advice: time to a proven optimum, by the number of tasks that remain, and re-sequenced job shops.

States are invented plans half carried out (`make.py`), with a limit that about a tenth of what remains does not fit. Run
it alone, `python -m tests.bench advice`: it takes minutes. Peak memory is printed with it.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.advise import Advised, Wish, advise
from dashboard.core.events.kinds import parse_event
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from dashboard.core.schedule.plan_pace import project
from tests.bench.make import log_rows, plan_table
from tests.bench.measure import Measured
from tests.published.jobshops import OPTIMA, plan_of_shop

STATES = 50
STATES_LARGE = 20
SHARE_THAT_FITS = 0.9


def state_of(remaining: int, seed: int) -> Record:
    """A state with about so many tasks to go."""
    table = plan_table(2 * remaining, seed)
    events = [parse_event(row) for row in log_rows(table, 2 * remaining + 1, seed + 1000)]
    now = max(event.at for event in events)
    record = reconcile(Plan.model_validate(table), events, now)
    end = project(record).end_pet_min or 0.0
    table["sortie"] |= {"limit": record.pet_min + (end - record.pet_min) * SHARE_THAT_FITS, "reserve": 0}
    return reconcile(Plan.model_validate(table), events, now)


def _row(what: str, states: list[Record], ask: Callable[[Record], Advised]) -> Measured:
    readings, proven = [], 0
    ask(states[0])
    for record in states:
        began = time.perf_counter()
        advised = ask(record)
        readings.append(time.perf_counter() - began)
        proven += all(proposal.proven for proposal in advised.proposals)
    return Measured(f"{what}, proven {proven} of {len(states)}", readings)


def measure() -> list[Measured]:
    """All rows."""
    rows = []
    for remaining, count in ((60, STATES), (120, STATES_LARGE)):
        states = [state_of(remaining, seed) for seed in range(count)]
        rows.append(_row(f"plan pace, {remaining} to go", states, lambda r: advise(r, basis="plan-pace", choices=1)))
        rows.append(_row(f"as drawn, {remaining} to go", states, lambda r: advise(r, choices=1)))
    for name, optimum in OPTIMA.items():
        record = reconcile(plan_of_shop(name), [], parse_instant("2031-01-01T00:00:00Z"))

        def shop(record: Record = record) -> Advised:
            return advise(record, basis="plan-pace", wish=Wish(resequence=True), choices=1)

        first = shop().proposals[0]
        assert first.figures.end_pet_min == optimum, name
        rows.append(_row(f"job shop {name}, {optimum} min", [record], lambda _, ask=shop: ask()))
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory {peak_mb:.0f} MB", file=sys.stderr)
    return rows
