"""Simulated sorties for the bench of calls: plans, truths, and a simulator of the work. Invented, and made with dice of its own.

Nothing here knows the forecast: lengths are triangular and not beta-PERT, pace and surprises are drawn in other ways, and the
work is carried out by a small simulator of events. Four modes:

- plain: the pair's pace, the lanes' and each task's own length;
- slow start: the first `SLOW_MIN` minutes of work take longer, and the crew then finds its pace;
- heavy tails: now and then a task takes two or three times as long;
- one surprise: one task takes half an hour to an hour more.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from dashboard.core.plan.model import Plan

MODES = ("plain", "slow start", "heavy tails", "one surprise")
LANES = ("EV1", "EV2")
CLASSES = (1, 2, 3)
SLOW_MIN = 100.0
START = "2031-05-02T09:00:00Z"


class Work(NamedTuple):
    """One task: its lanes, what it comes after, its class, whether it must be done, and its briefed length in minutes."""

    id: str
    lanes: tuple[str, ...]
    after: tuple[str, ...]
    priority: int
    required: bool
    low: float
    likely: float
    high: float


class Sortie(NamedTuple):
    """One sortie: the work in order, the limit in PET minutes, and how long each task truly takes."""

    works: tuple[Work, ...]
    limit: float
    truth: dict[str, float]

    def plan(self) -> Plan:
        """The plan that the room has."""
        briefed = {
            task_id: started for task_id, started, _ in carried_out(self.works, {w.id: w.likely for w in self.works}, ())
        }
        return Plan.model_validate({
            "sortie": {"id": "drawn", "start": START, "limit": self.limit, "confidence": 0.9, "lead": 20},
            "lane": [{"id": lane, "kind": "crew"} for lane in LANES],
            "task": [
                {"id": w.id, "lanes": list(w.lanes), "after": list(w.after), "priority": w.priority, "required": w.required,
                 "start": briefed[w.id], "duration": [w.low, w.likely, w.high]}
                for w in self.works
            ],
        })  # fmt: skip


def sortie_of(mode: str, seed: int) -> Sortie:
    """One sortie of a mode; the plan of a seed is the same in every mode."""
    dice = random.Random(f"plan {seed}")
    works = tuple(_works(dice))
    ends = [end for _, _, end in carried_out(works, {w.id: w.likely for w in works}, ())]
    return Sortie(works, round(max(ends) * dice.uniform(1.04, 1.14)), _truth(works, mode, random.Random(f"{mode} {seed}")))


def _works(dice: random.Random) -> Iterator[Work]:
    """Out together, two lanes of work with one joint task in the middle, and in together."""
    def work(name: str, lanes: tuple[str, ...], minutes: int, *, after: tuple[str, ...] = (), priority: int = 1,
             required: bool = False) -> Work:
        low, high = round(minutes * dice.uniform(0.7, 0.85), 1), round(minutes * dice.uniform(1.25, 1.7), 1)
        return Work(name, lanes, after, priority, required, low, minutes, high)

    yield work("OUT", LANES, 30, required=True)
    for half in (1, 2):
        for lane in LANES:
            before: list[str] = []
            for i in range(dice.randint(4, 5)):
                name = f"{lane}-{half}{i}"
                after = (dice.choice(before),) if before and dice.random() < 0.25 else ()
                yield work(name, (lane,), dice.randint(15, 40), after=after, priority=dice.choices(CLASSES, (3, 4, 4))[0])
                before.append(name)
        yield work(f"BOTH-{half}", LANES, dice.randint(20, 35), priority=dice.choice((1, 2)))
    yield work("IN", LANES, 25, required=True)


def _truth(works: tuple[Work, ...], mode: str, dice: random.Random) -> dict[str, float]:
    pair = dice.lognormvariate(0.0, 0.08)
    lane = {name: dice.lognormvariate(0.0, 0.04) for name in LANES}
    minutes = {
        w.id: dice.triangular(w.low, w.high, w.likely) * pair * sum(lane[n] for n in w.lanes) / len(w.lanes) for w in works
    }
    if mode == "slow start":
        done = dict.fromkeys(LANES, 0.0)
        for w in works:
            at = max(done[n] for n in w.lanes)
            minutes[w.id] *= 1.0 + 0.35 * max(0.0, 1.0 - at / SLOW_MIN)
            done.update(dict.fromkeys(w.lanes, at + minutes[w.id]))
    elif mode == "heavy tails":
        for w in works:
            minutes[w.id] *= dice.lognormvariate(0.0, 0.15) * (dice.uniform(1.8, 3.0) if dice.random() < 0.05 else 1.0)
    elif mode == "one surprise":
        minutes[dice.choice(works[1:-1]).id] += dice.uniform(30, 60)
    return minutes


class Occurrence(NamedTuple):
    """A start or an end of a task, PET minutes."""

    pet_min: float
    kind: str
    task: str


@dataclass
class Flight:
    """A sortie while it goes on. Each lane takes its work in order, as soon as it is free and what it comes after is over."""

    works: tuple[Work, ...]
    truth: dict[str, float]
    pet_min: float = 0.0
    started: dict[str, float] = field(default_factory=dict)
    given_up: set[str] = field(default_factory=set)

    def give_up(self, tasks: Collection[str]) -> None:
        """Take tasks that have not begun out of the sortie, with what comes after them."""
        out = {t for t in tasks if t not in self.started}
        for w in self.works:
            if w.id not in self.started and set(w.after) & (out | self.given_up):
                out.add(w.id)
        self.given_up |= out

    def next_after(self, until: float) -> Occurrence | None:
        """What happens next, up to a time; None: nothing. The clock goes there."""
        ends = [Occurrence(at + self.truth[t], "done", t) for t, at in self.started.items() if at + self.truth[t] > self.pet_min]
        following = min([*ends, *self._starts()], default=None)
        if following is None or following.pet_min > until:
            self.pet_min = until
            return None
        if following.kind == "start":
            self.started[following.task] = following.pet_min
        else:
            self.pet_min = following.pet_min
        return following

    @property
    def is_over(self) -> bool:
        """Whether all that stays is done."""
        return all(
            w.id in self.given_up or (w.id in self.started and self.started[w.id] + self.truth[w.id] <= self.pet_min)
            for w in self.works
        )

    def end(self) -> float:
        """Latest end of what was begun."""
        return max(at + self.truth[t] for t, at in self.started.items())

    def _starts(self) -> Iterator[Occurrence]:
        taken: set[str] = set()
        for w in self.works:
            if w.id in self.started or w.id in self.given_up:
                continue
            first = not taken & set(w.lanes)
            taken |= set(w.lanes)
            over = [at + self.truth[t] for t, at in self.started.items() if set(self._lanes(t)) & set(w.lanes) or t in w.after]
            waits = any(needed not in self.started and needed not in self.given_up for needed in w.after)
            if first and not waits:
                at = max([0.0, *over])
                if at <= self.pet_min or not self.started:
                    yield Occurrence(max(at, self.pet_min), "start", w.id)

    def _lanes(self, task_id: str) -> tuple[str, ...]:
        return next(w.lanes for w in self.works if w.id == task_id)


def carried_out(works: tuple[Work, ...], minutes: dict[str, float], given_up: Collection[str]) -> list[tuple[str, float, float]]:
    """Each task that is done, with its start and end, when these tasks are given up beforehand."""
    free = dict.fromkeys(LANES, 0.0)
    over: dict[str, float] = {}
    found = []
    for w in works:
        if w.id in given_up:
            continue
        start = max([*(free[n] for n in w.lanes), *(over[t] for t in w.after if t in over)])
        over[w.id] = start + minutes[w.id]
        free.update(dict.fromkeys(w.lanes, over[w.id]))
        found.append((w.id, start, over[w.id]))
    return found


def hindsight(sortie: Sortie) -> tuple[int, ...]:
    """Tasks lost in each class by a room that knows the future: the least in class 1, then 2, then 3."""
    ids = {c: [w.id for w in sortie.works if w.priority == c and not w.required] for c in CLASSES}
    for n1 in range(len(ids[1]) + 1):
        firsts = [set(some) for some in itertools.combinations(ids[1], n1) if _in_time(sortie, {*some, *ids[2], *ids[3]})]
        for n2 in range(len(ids[2]) + 1 if firsts else 0):
            seconds = [
                first | set(some) for first in firsts for some in itertools.combinations(ids[2], n2)
                if _in_time(sortie, {*first, *some, *ids[3]})
            ]
            for n3 in range(len(ids[3]) + 1 if seconds else 0):
                for second, some in itertools.product(seconds, itertools.combinations(ids[3], n3)):
                    if _makes_sense(sortie, second | set(some)) and _in_time(sortie, second | set(some)):
                        return n1, n2, n3
    return tuple(len(ids[c]) for c in CLASSES)


def _makes_sense(sortie: Sortie, given_up: set[str]) -> bool:
    return not any(w.id not in given_up and set(w.after) & given_up for w in sortie.works)


def _in_time(sortie: Sortie, given_up: Collection[str]) -> bool:
    return max(end for _, _, end in carried_out(sortie.works, sortie.truth, given_up)) <= sortie.limit


def needs_no_cut(sortie: Sortie) -> bool:
    """Whether the crew is in by the limit with nothing given up."""
    return _in_time(sortie, ())


def event_of(number: int, pet_min: float, kind: str, **fields: Any) -> dict[str, Any]:
    """One line of the log."""
    hours, seconds = divmod(round(pet_min * 60), 3600)
    at = f"2031-05-02T{9 + hours:02d}:{seconds // 60:02d}:{seconds % 60:02d}Z"
    return {"id": f"e{number}", "seq": number, "at": at, "kind": kind, **fields}
