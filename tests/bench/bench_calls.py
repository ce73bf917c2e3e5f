"""What following the calls is worth: simulated sorties in four modes, each flown by several rooms.

    python -m tests.bench calls --count 300

The sorties and their truths come from `sorties.py`, which shares no code with the forecast. The rooms:

- follows the calls: when the call is to decide, it records the part for now and nothing else;
- obeys at once: whenever the chance is under the wanted confidence, it records the whole first choice;
- cuts at the last moment: it gives up everything that may go once the way in just fits;
- waits for the last task: it is asked only when nothing that may go begins after the lead time, and gives that up if the chance
  is under the wanted confidence. No rule that keeps the confidence and the lead time is likely to ask in vain less often.

Rules are developed on seeds from 50000 on, and scored on seeds from 0 on, so that no rule is fitted to what it is scored by.

Every room is asked at every end of a task and every `EVERY_MIN` minutes. Regret is what was lost above a room that knows the
future. Before the table, the bars that the room of the calls is held against.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from dashboard.core.base.times import plus_minutes
from dashboard.core.deferral.advise import advise, call_now
from dashboard.core.deferral.call import Call
from dashboard.core.deferral.when_to_decide import Times
from dashboard.core.events.kinds import parse_event
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import expect
from dashboard.core.schedule.plan_pace import project
from tests.bench.measure import Measured
from tests.bench.sorties import (
    CLASSES,
    LANES,
    MODES,
    Flight,
    Sortie,
    event_of,
    hindsight,
    needs_no_cut,
    sortie_of,
)

COUNT = 10
DRAWS = 300
EVERY_MIN = 5.0
SPARE_MIN = 3.0
CHUNK = 5
BARS = (
    "bars: of sorties that needed no cut, asked in vain 30 %, moments at decide 1 %; in by the limit 95 % (plain, slow start), "
    "90 % (others); class 1 none, class 3 at most 0.5 tasks above hindsight; 4 changes of call"
)


class Answer(NamedTuple):
    """What a room does at one moment: the tasks that it gives up, and whether it was called to decide."""

    give_up: tuple[str, ...]
    at_decide: bool


Room = Callable[[Record], Answer]


class FollowsCalls:
    """Records the part for now whenever it is called to decide."""

    def __init__(self) -> None:
        self.call: Call | None = None
        self.changes = 0

    def __call__(self, record: Record) -> Answer:
        call = call_now(record, previous=self.call, draws=DRAWS)
        self.changes += self.call is not None and call.call != self.call.call
        self.call = call
        return Answer(call.for_now.defer if call.call == "decide" else (), call.call == "decide")


class ObeysAtOnce:
    """Records the whole first choice whenever advice is needed."""

    changes = 0

    def __call__(self, record: Record) -> Answer:
        before = project(record)
        expected = expect(record, before, draws=DRAWS)
        limit = record.plan.sortie.limit
        if expected is None or float((expected.end <= limit).mean()) >= record.plan.sortie.confidence:
            return Answer((), False)
        advised = advise(record, draws=DRAWS, choices=1)
        return Answer(advised.proposals[0].figures.change.defer if advised.proposals else (), True)


class LastMoment:
    """Gives up everything that has not begun once what must be done just fits at the briefed lengths."""

    changes = 0

    def __call__(self, record: Record) -> Answer:
        left = dict.fromkeys(LANES, 0.0)
        for run in record.runs.values():
            if run.task.required or run.state == "in work":
                for lane in run.lanes:
                    left[lane] += run.remaining_min(record.pet_min) if record.in_plan(run.task.id) else 0.0
        late = record.pet_min + max(left.values()) + SPARE_MIN >= record.plan.sortie.limit
        free = tuple(
            t for t, run in record.runs.items() if run.state == "not started" and not run.task.required and record.in_plan(t)
        )
        return Answer(free if late else (), bool(late and free))


class WaitsForTheLast:
    """Gives up what begins within the lead time once nothing that may go begins later, if the chance is under the confidence."""

    changes = 0

    def __call__(self, record: Record) -> Answer:
        before = project(record)
        expected = expect(record, before, draws=DRAWS)
        sortie, times = record.plan.sortie, Times(before, expected)
        if expected is None or float((expected.end <= sortie.limit).mean()) >= sortie.confidence:
            return Answer((), False)
        free = [t for t in expected.tasks if record.runs[t].state == "not started" and not record.runs[t].task.required]
        waits = any((times.start(t) or 0.0) > record.pet_min + sortie.lead for t in free)
        return Answer((), False) if waits else Answer(tuple(free), bool(free))


ROOMS: tuple[tuple[str, Callable[[], Any]], ...] = (
    ("follows the calls", FollowsCalls), ("obeys at once", ObeysAtOnce), ("last moment", LastMoment),
    ("waits for the last", WaitsForTheLast),
)


@dataclass
class Flown:
    """One sortie as it went: in by the limit, tasks lost by class, moments asked and moments at decide, changes of call."""

    in_by: bool
    lost: tuple[int, ...]
    moments: int
    at_decide: int
    changes: int


def flown(sortie: Sortie, plan: Plan, room: Any) -> Flown:
    """Fly one sortie with one room."""
    flight = Flight(sortie.works, sortie.truth)
    log: list[Any] = [parse_event(event_of(0, 0.0, "clock"))]
    moments = at_decide = 0
    until = 0.0
    while not flight.is_over:
        happened = flight.next_after(until)
        if happened is not None:
            log.append(parse_event(event_of(len(log), happened.pet_min, happened.kind, task=happened.task)))
            if happened.kind == "start":
                continue
        else:
            until += EVERY_MIN
        answer = room(reconcile(plan, log, plus_minutes(plan.sortie.start, flight.pet_min)))
        moments += 1
        at_decide += answer.at_decide
        if answer.give_up:
            before = set(flight.given_up)
            flight.give_up(answer.give_up)
            gone = sorted(flight.given_up - before)
            if gone:
                log.append(parse_event(event_of(len(log), flight.pet_min, "decision", text="as called", defer=gone)))
    lost = tuple(sum(w.priority == c and w.id in flight.given_up for w in sortie.works) for c in CLASSES)
    return Flown(flight.end() <= sortie.limit + 1e-6, lost, moments, at_decide, room.changes)


class Row(NamedTuple):
    """One line of the table."""

    mode: str
    room: str
    flights: list[Flown]
    least: list[tuple[int, ...]]
    no_cut: list[bool]

    def __str__(self) -> str:
        idle = [one for one, none in zip(self.flights, self.no_cut, strict=True) if none]
        vain = np.mean([one.at_decide > 0 for one in idle]) if idle else 0.0
        share = sum(one.at_decide for one in idle) / max(1, sum(one.moments for one in idle))
        above = np.mean([np.subtract(one.lost, least) for one, least in zip(self.flights, self.least, strict=True)], axis=0)
        return (
            f"{self.mode:<14}{self.room:<19}{len(self.flights):>5}{len(idle):>8}{vain:>8.0%}{share:>9.2%}"
            f"{np.mean([one.in_by for one in self.flights]):>9.1%}   {'  '.join(f'{lost:6.2f}' for lost in above)}"
            f"{np.mean([one.changes for one in self.flights]):>10.2f}"
        )


HEAD = (
    f"{'mode':<14}{'room':<19}{'n':>5}{'no cut':>8}{'vain':>8}{'decide':>9}{'in by':>9}   {'lost above, by class':<22}"
    f"{'changes':>10}"
)


def _flown_by(mode: str, seed: int, room: str) -> Flown:
    sortie = sortie_of(mode, seed)
    return flown(sortie, sortie.plan(), dict(ROOMS)[room]())


def table(count: int, first_seed: int = 0) -> list[Row]:
    """Fly so many sorties in every mode with every room, on every processor. Each row is shown as soon as it is known."""
    rows, seeds = [], range(first_seed, first_seed + count)
    with ProcessPoolExecutor() as processes:
        for mode in MODES:
            sorties = [sortie_of(mode, seed) for seed in seeds]
            least = list(processes.map(hindsight, sorties, chunksize=CHUNK))
            no_cut = [needs_no_cut(one) for one in sorties]
            for name, _ in ROOMS:
                flights = list(processes.map(_flown_by, [mode] * count, seeds, [name] * count, chunksize=CHUNK))
                rows.append(Row(mode, name, flights, least, no_cut))
                print(rows[-1], file=sys.stderr, flush=True)
    return rows


def measure(count: int = COUNT, seed: int = 0) -> list[Measured]:
    """Print the table: so many sorties in each mode, the first of them drawn by `seed`."""
    began = time.monotonic()
    rows = table(count, seed)
    print("\n".join([BARS, HEAD, *map(str, rows), f"{time.monotonic() - began:.0f} s"]))
    return []
