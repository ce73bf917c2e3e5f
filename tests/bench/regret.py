"""What following the advice is worth: simulated sorties of the demo plan, and what a room that knows the future would lose.

    python -m tests.bench.regret [sorties] [first seed] [draws]

Each sortie draws its true durations with a generator of its own, which shares nothing with the forecast: pace of the pair and of
the lanes log-normal, each task triangular over its briefed range, and in every second sortie one crew task sticks for 15 to 40
min more. The same truths are flown by four policies, asked every `ASKED_EVERY_MIN` minutes:

- follow the calls: when the call is to decide, the part for now is recorded;
- follow the advice: its first choice is recorded when advice is needed (the earliest way in when nothing reaches it);
- carry on: nothing is ever given up;
- drop from the end: when advice is needed, the last task that may go is deferred until the confidence is reached.

Regret, by priority class, is the value lost above the optimum in hindsight: the least that must be given up, in the strict order,
when every length is known (`hindsight`). It is negative for a policy that comes in late. Suits use what is modelled. Value is
what was done, in proportion where it was trimmed or broken off.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from dashboard.core.base.times import instant_text, plus_minutes
from dashboard.core.deferral.advise import advise, call_now
from dashboard.core.deferral.call import Call
from dashboard.core.deferral.change import closed, with_change
from dashboard.core.deferral.figures import figures_of
from dashboard.core.deferral.items import protected
from dashboard.core.events.change import Change
from dashboard.core.events.kinds import parse_event
from dashboard.core.plan.model import Duration, Plan, Task
from dashboard.core.record.fold import reconcile
from dashboard.core.record.lifecycle import BROKEN_OFF, DONE, IN_WORK, NOT_STARTED
from dashboard.core.record.record import Record
from dashboard.core.schedule.plan_pace import project
from dashboard.core.suits.budget import budgets
from dashboard.log.planfile import load_plan
from replay.recording import packaged_scenarios

DRAWS = 500
ASKED_EVERY_MIN = 20.0
CONFIDENCE = 0.9
SHOWN_EVERY = 10
Truth = dict[str, float]
Policy = Callable[[Record, int], Change]


def truth_of(plan: Plan, dice: random.Random, stuck: bool) -> Truth:
    """True minutes of every task of the plan."""
    pair = dice.lognormvariate(0.0, 0.08)
    lane = {one.id: dice.lognormvariate(0.0, 0.05 if one.kind == "crew" else 0.10) for one in plan.lanes}
    crew = set(plan.crew_lane_ids())
    minutes = {}
    for one in plan.tasks:
        low, likely, high = one.duration.low, one.duration.likely, one.duration.high
        if one.duration.without_range:
            low, high = 0.75 * likely, 1.5 * likely
        told = [lane[name] for name in one.lanes if name in crew] or [lane[name] for name in one.lanes]
        pace = sum(told) / len(told) * (pair if crew & set(one.lanes) else 1.0)
        minutes[one.id] = likely if one.duration.exact else dice.triangular(low, high, likely) * pace
    if stuck:
        may_stick = [t.id for t in plan.tasks if crew & set(t.lanes) and t.start is not None and t.start < 300]
        minutes[dice.choice(may_stick)] += dice.uniform(15, 40)
    return minutes


def hindsight(plan: Plan, truth: Truth) -> dict[int, float]:
    """Value lost in each priority class by a room that knows every length: proven least, in the strict order."""
    def known(task: Task) -> Task:
        minutes = truth[task.id]
        share = minutes / task.likely_min if task.likely_min else 1.0
        length = Duration(low=minutes, likely=minutes, high=minutes, exact=task.duration.exact)
        return task.model_copy(update={"duration": length, "shortest": None if task.shortest is None else task.shortest * share})

    as_it_is = plan.model_copy(update={"tasks": tuple(known(task) for task in plan.tasks)})
    advised = advise(reconcile(as_it_is, [], plan.sortie.start), basis="plan-pace", choices=1)
    return dict(advised.proposals[0].figures.value_lost) if advised.needed and advised.proposals else {}


def follow_the_calls() -> Policy:
    """The part for now, when the room is called to decide. It remembers the call before."""
    before: list[Call] = []

    def follow(record: Record, draws: int) -> Change:
        call = call_now(record, previous=before[-1] if before else None, draws=draws)
        before[:] = [call]
        return call.for_now if call.call == "decide" else Change()

    return follow


def follow_the_advice(record: Record, draws: int) -> Change:
    """The first choice, when advice is needed."""
    now = figures_of(record, project(record), Change(), confidence=CONFIDENCE, draws=draws)
    if now.in_by_limit is None or now.in_by_limit >= CONFIDENCE:
        return Change()
    advised = advise(record, confidence=CONFIDENCE, draws=draws, choices=1)
    return advised.proposals[0].figures.change if advised.needed and advised.proposals else Change()


def carry_on(record: Record, draws: int) -> Change:
    """Nothing is given up."""
    return Change()


def drop_from_the_end(record: Record, draws: int) -> Change:
    """The last task that may go is deferred, and the next, until the confidence is reached."""
    projection = project(record)
    change = Change()
    for task_id in [None, *reversed(projection.sequence)]:
        if task_id is not None:
            run = record.runs[task_id]
            if run.state != NOT_STARTED or task_id in change.defer or protected(run):
                continue
            trial = closed(record, Change(defer=(*change.defer, task_id)))
            if any(protected(record.runs[t]) for t in trial.defer):
                continue
            change = trial
        found = figures_of(record, projection, change, confidence=CONFIDENCE, draws=draws)
        if found.in_by_limit is None or found.in_by_limit >= CONFIDENCE:
            break
    return change


POLICIES: tuple[tuple[str, Callable[[], Policy]], ...] = (
    ("follow the calls", follow_the_calls), ("follow the advice", lambda: follow_the_advice), ("carry on", lambda: carry_on),
    ("drop from the end", lambda: drop_from_the_end),
)


class Flown(NamedTuple):
    """One sortie as it went: PET minutes, and value by priority class."""

    end: float
    in_by: bool
    value: dict[int, float]
    decided: int


def flown(plan: Plan, truth: Truth, policy: Policy, draws: int) -> Flown:
    """Fly one sortie: decide, let the truth run to the next question, and so on to the end."""
    log: list[Any] = []

    def write(pet: float, kind: str, **fields: Any) -> None:
        at = instant_text(plus_minutes(plan.sortie.start, pet))
        log.append(parse_event({"id": f"e{len(log)}", "seq": len(log), "at": at, "kind": kind, **fields}))

    write(0.0, "clock")
    now, decided = 0.0, 0
    while True:
        record = reconcile(plan, log, plus_minutes(plan.sortie.start, now))
        slots = project(_as_it_is(record, truth)).slots
        if not slots:
            return _outcome(plan, record, decided)
        change = policy(record, draws)
        if change.count():
            decided += 1
            _write_decision(change, now, write)
            record = reconcile(plan, log, plus_minutes(plan.sortie.start, now))
            slots = project(_as_it_is(record, truth)).slots
        for task_id, slot in slots.items():
            if record.runs[task_id].state != IN_WORK and slot.start_pet_min <= now + ASKED_EVERY_MIN:
                write(slot.start_pet_min, "start", task=task_id)
            if slot.finish_pet_min <= now + ASKED_EVERY_MIN:
                write(slot.finish_pet_min, "done", task=task_id)
        now += ASKED_EVERY_MIN


def _write_decision(change: Change, now: float, write: Callable[..., None]) -> None:
    for alternative, option in change.choose.items():
        write(now, "choose", alternative=alternative, option=option)
    for task_id, lane in change.move.items():
        write(now, "move", task=task_id, lane=lane)
    for task_id in change.break_off:
        write(now, "break_off", task=task_id)
    if change.defer:
        write(now, "defer", tasks=list(change.defer))
    for task_id, minutes in change.trim.items():
        write(now, "trim", task=task_id, duration=minutes)


def _as_it_is(record: Record, truth: Truth) -> Record:
    """The record with true lengths in place of likely ones."""
    runs = {}
    for task_id, run in record.runs.items():
        share = run.planned_min / run.task.likely_min if run.length_set and run.task.likely_min else 1.0
        runs[task_id] = replace(run, planned_min=truth.get(task_id, run.planned_min) * share, whole_by_estimate_min=None)
    return replace(record, runs=runs)


def _outcome(plan: Plan, record: Record, decided: int) -> Flown:
    end = project(record).end_pet_min or 0.0
    suits = min((b.reserve_reached_pet_min for b in budgets(record, project(record)).values()), default=end)
    value: dict[int, float] = {}
    for run in record.runs.values():
        likely = run.task.likely_min
        if run.state == DONE:
            share = run.planned_min / likely if run.length_set and likely else 1.0
        elif run.state == BROKEN_OFF:
            share = min(1.0, run.worked_before_min / likely) if likely else 1.0
        else:
            continue
        value[run.task.priority] = value.get(run.task.priority, 0.0) + run.task.value * share
    return Flown(end, end <= min(plan.sortie.limit_less_reserve_pet_min, suits) + 1e-6, value, decided)


def most_value(plan: Plan) -> dict[int, float]:
    """Value of the plan as briefed, default options taken, by priority class."""
    record = with_change(reconcile(plan, [], plan.sortie.start), Change())
    total: dict[int, float] = {}
    for task_id in project(record).sequence:
        task = record.runs[task_id].task
        total[task.priority] = total.get(task.priority, 0.0) + task.value
    return dict(sorted(total.items()))


def show(runs: dict[str, list[Flown]], least: list[dict[int, float]], most: dict[int, float]) -> None:
    """The table so far."""
    print(f"{'policy':<20}{'sorties':>8}{'in by limit':>12}{'end':>7}{'P90 end':>9}{'decided':>9}  regret by priority")
    for name, flights in runs.items():
        ends = np.array([one.end for one in flights])
        lost = {
            c: np.mean([value - one.value.get(c, 0.0) - best.get(c, 0.0) for one, best in zip(flights, least, strict=True)])
            for c, value in most.items()
        }
        regret = "  ".join(f"{c}: {mean:6.3f}" for c, mean in lost.items())
        print(f"{name:<20}{len(flights):>8}{np.mean([one.in_by for one in flights]):>12.1%}{ends.mean():>7.1f}"
              f"{np.percentile(ends, 90):>9.1f}{np.mean([one.decided for one in flights]):>9.2f}  {regret}", flush=True)


def main(sorties: int = 300, first_seed: int = 7_000_000, draws: int = DRAWS) -> None:
    """Print one table."""
    plan = load_plan(packaged_scenarios()["lantern-2"] / "plan.toml")
    most = most_value(plan)
    began = time.perf_counter()
    print(f"{sorties} sorties of {plan.sortie.id} from seed {first_seed}; asked every {ASKED_EVERY_MIN:g} min, {draws} draws, "
          f"confidence {CONFIDENCE}")
    print(f"briefed value by priority: {', '.join(f'{c}: {v:g}' for c, v in most.items())}")
    runs: dict[str, list[Flown]] = {name: [] for name, _ in POLICIES}
    least: list[dict[int, float]] = []
    for i in range(sorties):
        truth = truth_of(plan, random.Random(f"{first_seed} {i}"), i % 2 == 1)
        least.append(hindsight(plan, truth))
        for name, policy in POLICIES:
            runs[name].append(flown(plan, truth, policy(), draws))
        if (i + 1) % SHOWN_EVERY == 0 or i + 1 == sorties:
            show(runs, least, most)
    print(f"{time.perf_counter() - began:.0f} s")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
