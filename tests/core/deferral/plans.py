"""Small random plans and records, and the optimum of each by trying every subset."""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable, Iterator
from typing import Any

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.change import value_lost, with_change
from dashboard.core.deferral.when_to_decide import Times
from dashboard.core.events.change import Change
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.record.lifecycle import NOT_STARTED
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import expect
from dashboard.core.schedule.plan_pace import project
from dashboard.core.suits.budget import budgets
from dashboard.core.suits.way_home import tasks_of_way_home
from tests.scenario import at, log_of

START = "2031-01-01T00:00:00Z"
CLASSES = (1, 2, 3)


def random_plan(seed: int, *, trims: bool, sizes: tuple[int, int] = (4, 7)) -> Plan:
    """So many tasks over two crew lanes and the arm, with joint tasks, `after` and `follows`, and a tight limit."""
    dice = random.Random(seed)
    free = {"EV1": 0, "EV2": 0, "ARM": 0}
    tasks: list[dict] = []
    for i in range(dice.randint(*sizes)):
        lanes = dice.choice([["EV1"], ["EV2"], ["EV1", "EV2"], ["EV1", "ARM"], ["ARM"]])
        start, minutes = max(free[lane] for lane in lanes), dice.randint(5, 30)
        task = {"id": f"T{i}", "lanes": lanes, "duration": minutes, "priority": dice.choice(CLASSES),
                "value": dice.choice([0.5, 1, 1, 2]), "required": dice.random() < 0.15, "after": [], "follows": []}
        if tasks and dice.random() < 0.4:
            key, lag = dice.choice([("after", 0), ("follows", dice.randint(0, 5))])
            other = dice.choice(tasks)
            start = max(start, other["start"] + other["duration"] + lag)
            task[key] = [other["id"]] if key == "after" else [{"task": other["id"], "lag": lag}]
        if trims and dice.random() < 0.5:
            task["shortest"] = max(1, minutes - dice.randint(1, 6))
        task["start"] = start
        tasks.append(task)
        for lane in lanes:
            free[lane] = start + minutes
    limit = max(1, int(max(free["EV1"], free["EV2"], 10) * dice.uniform(0.4, 0.95)))
    kinds = {"EV1": "crew", "EV2": "crew", "ARM": "arm"}
    return Plan.model_validate(
        {"sortie": {"id": "s", "start": START, "limit": limit},
         "lane": [{"id": name, "kind": kind} for name, kind in kinds.items()], "task": tasks}
    )


def uncertain(plan: Plan, seed: int) -> Plan:
    """The plan with three-point durations about its likely ones, and a daylight window that some tasks need."""
    dice = random.Random(seed)
    table = plan.model_dump(mode="json", by_alias=True, exclude_none=True)
    for task in table["task"]:
        likely = task["duration"]["likely"]
        task["duration"] = [round(likely * 0.8, 1), likely, round(likely * dice.uniform(1.2, 1.9), 1)]
        if dice.random() < 0.2:
            task["needs"] = ["daylight"]
    limit = table["sortie"]["limit"]
    table["window"] = [{"kind": "daylight", "from": 0, "to": round(limit * 0.6)},
                       {"kind": "daylight", "from": round(limit * 0.75), "to": 400}]
    return Plan.model_validate(table)


def with_endings(plan: Plan, seed: int) -> Plan:
    """The plan with an alternative: one to three of its tasks by default, or one or two others in their place."""
    dice = random.Random(seed)
    free = [t.id for t in plan.tasks if not t.required]
    if len(free) < 2:
        return plan
    dice.shuffle(free)
    first = dice.randint(1, min(3, len(free) - 1))
    other = free[first:first + dice.randint(1, 2)]
    table = plan.model_dump(mode="json", by_alias=True, exclude_none=True)
    table["alternative"] = [
        {"id": "ending", "title": "Ending", "default": "long", "options": {"long": free[:first], "short": other}}
    ]
    return Plan.model_validate(table)


def with_sense(plan: Plan, seed: int) -> Plan:
    """The plan with groups, obliged tasks, tasks that serve others, and legs with work at their ends."""
    dice = random.Random(seed + 77)
    table = plan.model_dump(mode="json", by_alias=True, exclude_none=True)
    tasks = table["task"]
    names = [task["id"] for task in tasks]
    sites = ["rack", "mast", "boom"]
    table["worksite"] = [{"id": site, "return": 5} for site in sites]
    dice.shuffle(sites)
    leads_to: dict[str, str] = {}
    if dice.random() < 0.5:
        table["route"] = [{"from": "mast", "to": "boom", "duration": dice.randint(3, 25)}]
    for i, task in enumerate(tasks):
        others = [name for name in names if name != task["id"]]
        if dice.random() < 0.25:
            task["together"] = dice.choice(["one", "two"])
        if dice.random() < 0.2:
            task["obliges"] = [dice.choice(others)]
        if dice.random() < 0.25:
            task["serves"] = dice.sample(others, dice.randint(1, 2))
        if i < len(tasks) - 1 and sites and dice.random() < 0.4:
            task["leg"] = sites.pop()
            task["priority"] = 1
            task.pop("shortest", None)
            leads_to.update(dict.fromkeys(task["lanes"], task["leg"]))
        elif dice.random() < 0.7 and len(there := {leads_to.get(lane) for lane in task["lanes"]}) == 1 and None not in there:
            task["worksite"] = there.pop()
    legs = {task["id"] for task in tasks if "leg" in task}
    for task in tasks:  # legs follow a rule of their own
        for key in ("together", "obliges", "serves"):
            if task["id"] in legs or (key != "serves" and legs & set(task.get(key, ()))):
                task.pop(key, None)
    return Plan.model_validate(table)


def makes_sense(record: Record, given: tuple[str, ...]) -> bool:
    """Whether what stays makes sense when these tasks go and nothing has begun, told from the fields of the plan alone."""
    tasks = [record.runs[t].task for t in record.order if record.in_plan(t)]
    stays = {task.id for task in tasks} - set(given)
    for place, task in enumerate(tasks):
        group = {one.id for one in tasks if one.together == task.together}
        if task.together and not (group <= stays or not group & stays):
            return False
        if task.id in stays and set(task.obliges) & set(given):
            return False
        if task.id in stays and task.serves and not set(task.serves) & stays and set(task.serves) & set(given):
            return False
        if task.leg:
            at_end, on_the_way = set(), set(task.lanes)
            for later in tasks[place + 1:]:
                if later.leg:
                    on_the_way -= set(later.lanes)
                elif on_the_way & set(later.lanes) and later.worksite in (None, task.leg):
                    at_end.add(later.id)
            if at_end & stays and task.id not in stays:
                return False
            if at_end and not at_end & stays and task.id in stays and not task.required:
                return False
    return True


def breathing(plan: Plan, seed: int) -> Plan:
    """The plan with suits that run low before the limit does, by rates with many places, and at most one trim for each class.

    No work is lighter than waiting: then giving up more never uses more.
    """
    dice = random.Random(seed)
    table = plan.model_dump(mode="json", by_alias=True, exclude_none=True)
    trimmed = set()
    for task in table["task"]:
        task["workload"] = dice.choice([200, 284, 350, 450, 500])
        if "shortest" in task and (task["required"] or task["priority"] in trimmed):
            del task["shortest"]
        elif "shortest" in task:
            trimmed.add(task["priority"])
    ends = [task["start"] + task["duration"]["likely"] for task in table["task"]]
    table["sortie"]["limit"] = round(max(ends) * dice.choice([0.9, 1.2, 1.2]))
    for lane, suit in zip(table["lane"][:2], "AB", strict=True):
        lane["suit"] = suit
    table["suit"] = [
        {"id": suit,
         "oxygen": {"loaded": 50, "reserve": 0.05, "base": round(dice.uniform(0.03, 0.09), 4),
                    "per_watt": dice.choice([0, 0.00003, 0.00011])},
         "battery": {"loaded": 5000, "reserve": 30, "base": round(dice.uniform(30, 60), 2),
                     "per_watt": dice.choice([0, 0, 0.0313])}}
        for suit in "AB"
    ]
    record = reconcile(Plan.model_validate(table), [], parse_instant(START))
    full = budgets(record, project(record))
    for suit in table["suit"]:
        for name, places in (("oxygen", 4), ("battery", 1)):
            suit[name]["loaded"] = round(
                suit[name]["reserve"] + full[suit["id"], name].need * dice.uniform(0.7, 1.05), places
            )
    return Plan.model_validate(table)


def with_holds(plan: Plan, seed: int) -> Record:
    """The record of the plan at PET 0:10: some work begun, some of it on hold with other tasks moved before it."""
    dice = random.Random(seed)
    table = plan.model_dump(mode="json", by_alias=True, exclude_none=True)
    table["sortie"]["start"] = at("0:00")
    lines, busy = ["0:00 clock"], set()
    for task in table["task"]:
        if dice.random() < 0.8:
            task["closeout"] = dice.randint(1, 5)
        if busy & set(task["lanes"]) or task["after"] or task["follows"] or task["duration"]["likely"] < 12:
            continue
        busy |= set(task["lanes"])
        lines.append(f"0:00 start {task['id']}")
        if dice.random() < 0.75:
            lines.append(f"0:05 hold {task['id']}")
            others = [t["id"] for t in table["task"] if set(t["lanes"]) & set(task["lanes"]) and t is not task]
            if others and dice.random() < 0.7:
                lines.append(f"0:06 move {dice.choice(others)} before={task['id']}")
    return reconcile(Plan.model_validate(table), log_of("\n".join(lines)), parse_instant(at("0:10")))


def rank(record: Record, change: Change, end: float | None) -> tuple[float, ...]:
    """Value lost by class, then changes, then end: smaller is better."""
    lost = value_lost(record, change)
    return (*(round(lost.get(c, 0.0), 4) for c in CLASSES), change.count(), round(end or 0.0, 4))


def rank_as_drawn(draws: int) -> Callable[[Record, Change, float | None], tuple[object, ...]]:
    """The rank with the starts as drawn: of equal cost, what can wait longest, before the earliest end."""
    times: dict[int, Times] = {}

    def ranked(record: Record, change: Change, end: float | None) -> tuple[object, ...]:
        before = project(record)
        if id(record) not in times:
            times[id(record)] = Times(before, expect(record, before, draws=draws))
        starts = sorted(times[id(record)].start(t) or 0.0 for t in change.given_up())
        plain = rank(record, change, end)
        return (*plain[:-1], tuple(-round(start, 3) for start in starts), plain[-1])

    return ranked


def at_plan_pace(record: Record, change: Change) -> bool:
    """In by the limit on likely durations."""
    return (project(with_change(record, change)).end_pet_min or 0.0) <= record.plan.sortie.limit + 1e-9


def drawn(confidence: float, draws: int) -> Callable[[Record, Change], bool]:
    """In by the limit in so great a share of draws, no task pushed past its windows."""

    def holds(record: Record, change: Change) -> bool:
        changed = with_change(record, change)
        projection, before = project(changed), project(record)
        if any(s.window_missed and not before.slots[t].window_missed for t, s in projection.slots.items()):
            return False
        expected = expect(changed, projection, draws=draws)
        if expected is None:
            return at_plan_pace(record, change)
        return float((expected.end <= record.plan.sortie.limit).mean()) >= confidence

    return holds


def in_with_all_in_reserve(record: Record, change: Change) -> bool:
    """In by the limit on likely durations, every consumable of every suit above its reserve."""
    changed = with_change(record, change)
    projection = project(changed)
    last = min((one.reserve_reached_pet_min for one in budgets(changed, projection).values()), default=1e9)
    return (projection.end_pet_min or 0.0) <= min(last, record.plan.sortie.limit) + 1e-6


def _sets(record: Record) -> Iterator[tuple[str, ...]]:
    """All sets of tasks that may be deferred or broken off together: nothing stays without what it comes after."""
    runs = record.runs
    givable = [
        t for t, run in runs.items() if not run.task.required and record.in_plan(t)
        and (run.state == NOT_STARTED or (run.task.closeout or 1e9) < run.remaining_min(record.pet_min))
    ]
    for k in range(len(givable) + 1):
        for given in itertools.combinations(givable, k):
            staying = [
                t for t, run in runs.items() if t not in given and run.state == NOT_STARTED and record.in_plan(t)
            ]
            if any(needed in given for t in staying for needed in runs[t].task.after):
                continue
            if makes_sense(record, given):
                yield given


def _cuttable(record: Record, given: tuple[str, ...]) -> list[str]:
    runs = record.runs
    return [
        t for t, run in runs.items()
        if t not in given and record.in_plan(t) and run.task.shortest is not None and not run.task.required
    ]


def _endings(record: Record) -> Iterator[tuple[dict[str, str], set[str], Record]]:
    """The endings that may be taken: what is chosen, the tasks that must then all be done, the record with it."""
    yield {}, set(), record
    for alternative in record.plan.alternatives:
        for option, tasks in alternative.options.items():
            taken = with_change(record, Change(choose={alternative.id: option}))
            if option != alternative.default and all(taken.in_plan(t) for t in tasks):
                yield {alternative.id: option}, set(tasks), taken


def best_to_the_second(record: Record) -> tuple[float, ...] | None:
    """The rank of the best change that keeps limit and suits, trims in whole seconds; None when there is none.

    At most one task of each class may be trimmed, and giving up more never brings the crew in later or uses more: so in each
    set the longest length that holds is looked for, highest class first, with the rest as short as may be.
    """
    best = None
    for given in _sets(record):
        cuttable = sorted(_cuttable(record, given), key=lambda t: record.runs[t].task.priority)
        trims = {t: float(record.runs[t].task.shortest or 0) for t in cuttable}
        whole = rank(record, Change(defer=given), 0.0)
        if (best is not None and whole > best) or not in_with_all_in_reserve(record, Change(defer=given, trim=trims)):
            continue
        for task_id in cuttable:
            trims = _longest(record, given, trims, task_id)
        change = Change(defer=given, trim=trims)
        found = rank(record, change, project(with_change(record, change)).end_pet_min)
        best = found if best is None else min(best, found)
    return best


def _longest(record: Record, given: tuple[str, ...], trims: dict[str, float], task_id: str) -> dict[str, float]:
    """The trims with one of them as long as still holds, in whole seconds; none when it holds whole."""
    whole_s = round(record.runs[task_id].task.likely_min * 60)
    others = {t: m for t, m in trims.items() if t != task_id}
    if in_with_all_in_reserve(record, Change(defer=given, trim=others)):
        return others
    holds_s, fails_s = round(trims[task_id] * 60), whole_s
    while fails_s - holds_s > 1:
        middle = (holds_s + fails_s) // 2
        if in_with_all_in_reserve(record, Change(defer=given, trim={**others, task_id: middle / 60})):
            holds_s = middle
        else:
            fails_s = middle
    return {**others, task_id: holds_s / 60}


def best_in_any_order(record: Record) -> tuple[float, ...] | None:
    """The rank of the best change in the best order that keeps limit and suits; whole tasks, the way home last."""
    home = tasks_of_way_home(record)
    best = None
    for given in _sets(record):
        for order in itertools.permutations(t for t in record.order if t not in given):
            if any(
                t in home and set(record.runs[t].lanes) & set(record.runs[later].lanes)
                and (later not in home or record.order.index(later) < record.order.index(t))
                for i, t in enumerate(order) for later in order[i + 1:]
            ):
                continue
            change = Change(defer=given, order=order)
            projection = project(with_change(record, change))
            if projection.out_of_turn:
                continue
            found = rank(record, change, projection.end_pet_min)
            if (best is None or found < best) and in_with_all_in_reserve(record, change):
                best = found
    return best


def _all_changes(record: Record) -> Iterator[Change]:
    """Every change that the rules allow, endings included; trims in whole minutes, hand-overs to each lane."""
    runs = record.runs
    tried = ((choose, whole, after, given) for choose, whole, after in _endings(record) for given in _sets(after))
    for choose, whole, taken, given in tried:
        if whole & set(given):
            continue
        deferred = tuple(t for t in given if runs[t].state == NOT_STARTED)
        broken = tuple(t for t in given if t not in deferred)
        cuttable = _cuttable(taken, given)
        movable = [
            t for t, run in runs.items() if run.task.can_move_to and t not in given and taken.in_plan(t)
            and run.state == NOT_STARTED and len(run.lanes) == 1
        ]
        lengths = (range(int(runs[t].task.shortest or 0), int(runs[t].task.likely_min) + 1) for t in cuttable)
        lanes = ([None, *runs[t].task.can_move_to] for t in movable)
        for taken_lengths, taken_lanes in itertools.product(itertools.product(*lengths), list(itertools.product(*lanes))):
            trims = {t: float(m) for t, m in zip(cuttable, taken_lengths, strict=True) if m < runs[t].task.likely_min}
            moves = {t: lane for t, lane in zip(movable, taken_lanes, strict=True) if lane is not None}
            yield Change(defer=deferred, trim=trims, break_off=broken, move=moves, choose=choose)


def best_by_trying_all(
    record: Record, holds: Callable[[Record, Change], bool] = at_plan_pace,
    ranked_by: Callable[[Record, Change, float | None], tuple[Any, ...]] = rank,
) -> tuple[Any, ...] | None:
    """The rank of the best change that holds, endings included; None when there is none. Trims in whole minutes.

    Changes of equal cost are tried together, cheapest first, so that the dearer ones need no trial.
    """
    ranked = sorted(((rank(record, change, 0.0), change) for change in _all_changes(record)), key=lambda one: one[0])
    for _, equals in itertools.groupby(ranked, key=lambda one: one[0]):
        found = [
            ranked_by(record, change, project(with_change(record, change)).end_pet_min)
            for _, change in equals if holds(record, change)
        ]
        if found:
            return min(found)
    return None
