"""The search for confident choices against every set tried, and against a simple way (`simple_search.py`).

    python -m tests.bench search

Tables, the same every time but for the seconds (and where the time limit of the solver ends a solve):

- 200 small random plans with 6 to 10 tasks that may be given up. The true optimum is found by trying every set on the same
  draws. Counted are the cases in which a way loses more, by the highest priority class in which it does. Its **extra loss**
  is the value lost beyond the optimum as a share of what the optimum loses, over all cases: in class 1 alone, and with each
  class weighted ten times as much as the next.
- The recorded run at several PETs, and plans with 60 tasks to go: what each way loses, and whether that is proven. There
  the optimum is not known; the extra loss is the one beyond the best of all ways.

Seconds are of the processor, so that other work of the machine counts little.
"""

from __future__ import annotations

import random
import statistics
import sys
import time
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from dashboard.core.base.times import parse_instant, plus_minutes
from dashboard.core.deferral.advise import advise
from dashboard.core.deferral.figures import Figures, figures_of
from dashboard.core.events.change import Change
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import DRAWS
from dashboard.core.schedule.plan_pace import project
from replay.recording import load_run, packaged_scenarios
from tests.bench.bench_advice import state_of
from tests.bench.measure import Measured
from tests.bench.simple_search import STAGES, rank_of, simple_search
from tests.core.deferral.plans import START, best_by_trying_all, drawn, random_plan, uncertain

SEARCH = "the search"
WAYS = (SEARCH, *STAGES)
CASES, CASE_DRAWS, CONFIDENCES = 200, 400, (0.8, 0.9)
LEAST_GIVABLE, MOST_GIVABLE, MOST_TRIMS = 6, 10, 2
WEIGHTS = (1000, 100, 10, 1)  # class 1 to 4
CLASSES = ("class 1", "class 2", "class 3", "changes or end")
EVEN = 2e-3
RUN, PETS_MIN = "lantern-2", range(30, 390, 30)
LARGE, LARGE_CASES = 60, 10
Rank = tuple[float, ...]


class Answer(NamedTuple):
    """One way's answer to one case; `rank` None: it found nothing."""

    rank: Rank | None
    proven: bool
    seconds: float


def case_of(seed: int) -> Record:
    """A small case: joint tasks, `after`, windows, at most two tasks that may be trimmed; in every third one hand-over."""
    for attempt in range(1000):
        plan = uncertain(random_plan(seed + 1000 * attempt, trims=True, sizes=(7, 11)), seed)
        if LEAST_GIVABLE <= sum(not t.required for t in plan.tasks) <= MOST_GIVABLE:
            return reconcile(_limited(plan, seed), [], parse_instant(START))
    raise AssertionError(f"no plan of the wanted size for seed {seed}")


def _limited(plan: Plan, seed: int) -> Plan:
    """The plan with few enough trims that every set can be tried, and with a hand-over in every third plan."""
    dice = random.Random(seed)
    table = plan.model_dump(mode="json", by_alias=True, exclude_none=True)
    trimmable = [t for t in table["task"] if "shortest" in t and not t["required"]]
    for task in dice.sample(trimmable, max(0, len(trimmable) - MOST_TRIMS)):
        del task["shortest"]
    alone = [t for t in table["task"] if t["lanes"] in (["EV1"], ["EV2"])]
    if alone and seed % 3 == 0:
        task = dice.choice(alone)
        task["can_move_to"] = ["EV2" if task["lanes"] == ["EV1"] else "EV1"]
    return Plan.model_validate(table)


def answers(record: Record, confidence: float, draws: int) -> dict[str, Answer]:
    """The answer of every way."""
    began_s = time.process_time()
    first = advise(record, confidence=confidence, draws=draws, choices=1, on_demand=True).proposals[0]
    spent_s = time.process_time() - began_s

    def rank(figures: Figures | None) -> Rank | None:
        return None if figures is None else rank_of(record, figures)

    found = {SEARCH: Answer(rank(first.figures if first.reached else None), first.reached and first.proven, spent_s)}
    for name, stage in simple_search(record, confidence, draws).items():
        found[name] = Answer(rank(stage.figures), False, stage.seconds)
    return found


class Tally:
    """The small cases of one way, added up."""

    def __init__(self) -> None:
        self.same = self.nothing = self.proven = 0
        self.worse = dict.fromkeys(CLASSES, 0)
        self.lost, self.least = [0.0, 0.0, 0.0], [0.0, 0.0, 0.0]
        self.seconds: list[float] = []

    def add(self, answer: Answer, best: Rank) -> None:
        """Count one answer against the optimum. One that found nothing counts by itself and not as a loss."""
        self.seconds.append(answer.seconds)
        if answer.rank is None:
            self.nothing += 1
            return
        self.proven += answer.proven
        self.lost = [a + b for a, b in zip(self.lost, answer.rank, strict=False)]
        self.least = [a + b for a, b in zip(self.least, best, strict=False)]
        differs = [i for i, (a, b) in enumerate(zip(answer.rank, best, strict=True)) if abs(a - b) > EVEN]
        if not differs:
            self.same += 1
            return
        assert answer.rank[differs[0]] > best[differs[0]], f"{answer.rank} beats {best}, the best of all sets"
        self.worse[CLASSES[min(differs[0], 3)]] += 1

    def row(self) -> str:
        """One line of the table."""
        in_class_1 = self.lost[0] / self.least[0] - 1
        weighted = _weighted(self.lost) / _weighted(self.least) - 1
        counts = "".join(f"{n:>9}" for n in (self.proven, self.same, *self.worse.values(), self.nothing))
        return f"{counts}{in_class_1:>10.2%}{weighted:>10.2%}{statistics.median(self.seconds) * 1000:>9.0f}"


def _weighted(losses: Sequence[float]) -> float:
    return sum(weight * lost for weight, lost in zip(WEIGHTS, losses, strict=False))


def small_cases() -> dict[str, list[float]]:
    """Print the table of the small cases; the seconds of every way."""
    tallies = {name: Tally() for name in WAYS}
    solvable = 0
    for seed in range(CASES):
        record, confidence = case_of(seed), CONFIDENCES[seed % 2]
        best = best_by_trying_all(record, drawn(confidence, CASE_DRAWS))
        found = answers(record, confidence, CASE_DRAWS)
        _progress(f"small case {seed + 1} of {CASES}", (seed + 1) % 20 == 0)
        if best is None:
            assert all(answer.rank is None for answer in found.values()), f"seed {seed}: no set reaches the confidence, {found}"
            continue
        solvable += 1
        classes = sorted({run.task.priority for run in record.runs.values()})
        for name, answer in found.items():
            tallies[name].add(answer._replace(rank=_by_all_classes(answer.rank, classes)), best)
    print(f"{CASES} small cases, {solvable} with a set that reaches the confidence; {CASE_DRAWS} draws")
    print(f"{'':<24}{'proven':>9}{'optimum':>9}{'worse 1':>9}{'worse 2':>9}{'worse 3':>9}{'only end':>9}{'nothing':>9}"
          f"{'extra 1':>10}{'weighted':>10}{'ms':>9}")
    for name, tally in tallies.items():
        print(f"{name:<24}{tally.row()}", flush=True)
    return {name: tally.seconds for name, tally in tallies.items()}


def _by_all_classes(rank: Rank | None, classes: Sequence[int]) -> Rank | None:
    """The rank with all three classes; a class that the plan does not have loses nothing."""
    if rank is None:
        return None
    lost = dict(zip(classes, rank, strict=False))
    return (*(lost.get(c, 0.0) for c in (1, 2, 3)), *rank[len(classes):])


def run_cases() -> Iterator[tuple[str, Record]]:
    """The recorded run at several PETs, as the room knew it then."""
    run = load_run(packaged_scenarios()[RUN])
    zero = next(event.at for event in run.events if event.kind == "clock")
    for pet_min in PETS_MIN:
        now = plus_minutes(zero, pet_min)
        yield f"PET {pet_min // 60}:{pet_min % 60:02}", reconcile(run.plan, run.known_at(now), now)


def large_cases() -> Iterator[tuple[str, Record]]:
    """Plans with many tasks to go."""
    for seed in range(LARGE_CASES):
        yield f"seed {seed}", state_of(LARGE, seed)


def run_and_large_plans() -> dict[str, list[float]]:
    """Print what every way loses in the recorded run and in large plans; the seconds of every way."""
    seconds: dict[str, list[float]] = {name: [] for name in WAYS}
    for part, cases in ((f"The recorded run {RUN}", run_cases()), (f"{LARGE} tasks to go", large_cases())):
        extra, least = dict.fromkeys(WAYS, 0.0), 0.0
        print(f"{part}, {DRAWS} draws: lost per class, changes, end; only where something must go")
        for what, record in cases:
            found = _shown(what, record)
            ranks = [answer.rank for answer in found.values() if answer.rank is not None]
            if not ranks:
                continue
            best = _weighted(min(ranks)[:-2])
            least += best
            for name, answer in found.items():
                seconds[name].append(answer.seconds)
                extra[name] += 0.0 if answer.rank is None else _weighted(answer.rank[:-2]) - best
        print("    weighted loss beyond the best of all ways: "
              + ", ".join(f"{name} {extra[name] / least:.2%}" for name in WAYS), flush=True)
    return seconds


def _shown(what: str, record: Record) -> dict[str, Answer]:
    """The answers to one case, printed; none where nothing must go."""
    confidence = record.plan.sortie.confidence
    now = figures_of(record, project(record), Change(), confidence=confidence)
    if now.in_by_limit is None or now.in_by_limit >= confidence:
        _progress(f"{what}: nothing must go")
        return {}
    print(what)
    found = answers(record, confidence, DRAWS)
    for name, answer in found.items():
        rank = "nothing" if answer.rank is None else " ".join(f"{figure:.6g}" for figure in answer.rank)
        print(f"    {name:<24}{rank:<40}{'proven' if answer.proven else '':<8}{answer.seconds:>6.1f} s", flush=True)
    return found


def measure() -> Iterator[Measured]:
    """Print all tables; the rows of seconds."""
    for part, tables in (("small cases", small_cases), ("run and large plans", run_and_large_plans)):
        for name, seconds in tables().items():
            yield Measured(f"{part}: {name}", seconds)


def _progress(text: str, shown: bool = True) -> None:
    if shown:
        print(text, file=sys.stderr, flush=True)
