"""The deferral problem as plain data: what remains, and what may be done to each task. Times are whole seconds."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from itertools import combinations

from dashboard.core.deferral.change import length_counted_min, value_broken_off, value_left
from dashboard.core.deferral.sense import GoesWith, gets_there, may_not_go, rules_of_sense
from dashboard.core.record.lifecycle import IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.legs import leg_durations
from dashboard.core.schedule.plan_pace import Projection
from dashboard.core.schedule.windows import windows_by_kind
from dashboard.core.suits.budget import Budget, rate_of, watts
from dashboard.core.suits.physiology import Rate
from dashboard.core.suits.way_home import tasks_of_way_home

SECONDS = 60
MOST_LEGS_BEFORE = 4  # the nearest earlier legs that may be given up, for each leg whose length depends on them


@dataclass(frozen=True)
class RemainingTask:
    """One remaining task.

    Parameters
    ----------
    worked_s : int
        Work done so far.
    length_s : int
        Work left.
    least_s : int
        Work left when trimmed as far as allowed; equal to `length_s` when it may not be trimmed.
    closeout_s : int or None
        Close-out when it is broken off; None: it may not be broken off.
    value : float
        Value lost when it is deferred; an earlier trim has already taken its share.
    broken_off_loss : float
        Value lost when it is broken off.
    loss_per_s : float
        Value lost for each second that is cut, in proportion to its likely length or to what it has grown to.
    moves : tuple of str
        Other lanes that it can be handed to.
    waits : tuple of (str, int)
        Remaining tasks that it must follow if both are done, with lags.
    from_s : int
        Earliest start.
    windows : tuple of tuple of (int, int)
        For each kind of window that it needs, the windows it may lie in.
    may_miss : bool
        No window that is left holds it even without a change; it may then lie after the last window.
    home : bool
        Part of the way home: no other work is placed after it.
    leg : bool
        It takes its lanes to another worksite.
    without : tuple of (frozenset of str, int)
        Length of a leg for each set of legs before it that go; the empty set is among them. Empty: its length never changes.
    """

    id: str
    lanes: tuple[str, ...]
    in_work: bool
    worked_s: int
    length_s: int
    least_s: int
    may_defer: bool
    closeout_s: int | None
    priority: int
    value: float
    broken_off_loss: float
    loss_per_s: float
    moves: tuple[str, ...]
    waits: tuple[tuple[str, int], ...]
    from_s: int
    windows: tuple[tuple[tuple[int, int], ...], ...]
    may_miss: bool
    home: bool
    leg: bool
    without: tuple[tuple[frozenset[str], int], ...]
    watts: float


@dataclass(frozen=True)
class Supply:
    """What one suit may still use of one consumable above its reserve, and at which rate per hour."""

    suit: str
    name: str
    lane: str
    usable: float
    idle_per_h: float
    rate: Rate


@dataclass(frozen=True)
class Deferral:
    """A deferral problem. Times are PET seconds. The items are in the order of their lanes; `sense` says what goes along."""

    items: tuple[RemainingTask, ...]
    now_s: int
    limit_s: int
    lane_free_s: dict[str, int]
    crew: frozenset[str]
    supplies: tuple[Supply, ...]
    latest_done_s: int
    sense: tuple[GoesWith, ...] = ()


def protected(run: TaskRun) -> bool:
    """Whether advice never gives the task up: it is required, or it belongs to an inserted contingency.

    The tasks that a contingency holds wait for the tasks of the contingency, so only a person may give those up.

    Parameters
    ----------
    run
        The task.

    Returns
    -------
    bool
    """
    return run.task.required or run.origin == "contingency"


def deferral_of(
    record: Record,
    projection: Projection,
    budget: dict[tuple[str, str], Budget],
    limit_pet_min: float,
    *,
    tighten_min: float = 0.0,
    keep: Collection[str] = (),
    stay: Collection[str] = (),
) -> Deferral:
    """Extract the problem from a record.

    Parameters
    ----------
    record, projection, budget
        Plan-pace projection and suit budget of the record.
    limit_pet_min : float
        Planned limit less reserve.
    tighten_min : float
        Minutes by which the limit and the time that the suits last are shortened.
    keep : collection of str
        Tasks that must be done whole.
    stay : collection of str
        Tasks that must be done; they may be trimmed or handed over.

    Returns
    -------
    Deferral
        Times are rounded to whole seconds.
    """
    crew = frozenset(record.plan.crew_lane_ids())
    done = [
        r.finish_pet_min for r in record.runs.values() if r.finish_pet_min is not None and crew & set(r.lanes)
    ]
    home, held = tasks_of_way_home(record), may_not_go(record)
    return Deferral(
        items=tuple(
            _item(
                record, projection, task_id, kept=task_id in keep, stays=task_id in stay, held=task_id in held,
                home=task_id in home,
            )
            for task_id in _in_lane_order(record, projection)
        ),
        now_s=_seconds(max(0.0, record.pet_min)),
        limit_s=_seconds(limit_pet_min - tighten_min),
        lane_free_s={lane: _seconds(free) for lane, free in projection.lane_free_first.items()},
        crew=crew,
        supplies=_supplies(record, budget, tighten_min),
        latest_done_s=_seconds(max(done, default=0.0)),
        sense=tuple(rules_of_sense(record, projection.slots)),
    )


def _in_lane_order(record: Record, projection: Projection) -> list[str]:
    """Work in hand first, then the order of the plan of record, or that of the projection if the plan contradicts itself."""
    sequence = projection.sequence
    if projection.out_of_turn:
        return list(sequence)
    place = {task_id: i for i, task_id in enumerate(record.order)}
    return sorted(sequence, key=lambda t: (record.runs[t].state != IN_WORK, place[t]))


def _item(
    record: Record, projection: Projection, task_id: str, *, kept: bool, stays: bool, held: bool, home: bool
) -> RemainingTask:
    now = max(0.0, record.pet_min)
    run = record.runs[task_id]
    task, slot = run.task, projection.slots[task_id]
    worked, left = run.worked_min(now), run.remaining_min(now)
    free = not protected(run) and not kept
    begun = run.state in (IN_WORK, ON_HOLD)
    least = min(left, max(0.0, task.shortest - worked)) if free and task.shortest is not None else left
    breaks_off = free and begun and not held and task.closeout is not None
    closeout = task.closeout if breaks_off and task.closeout is not None and task.closeout < left else None
    before = projection.predecessors.get(task_id, ())
    gone = [
        over + lag for o, lag in before
        if o not in projection.slots and (over := record.runs[o].finish_pet_min) is not None
    ]
    not_before = [task.not_before] if task.not_before is not None and not begun else []
    windows = windows_by_kind(record.plan.windows)
    return RemainingTask(
        id=task_id,
        lanes=run.lanes,
        in_work=run.state == IN_WORK,
        worked_s=_seconds(worked),
        length_s=_seconds(left),
        least_s=_seconds(least),
        may_defer=free and not begun and not stays and not held,
        closeout_s=_seconds(closeout) if closeout is not None else None,
        priority=task.priority,
        value=value_left(run),
        broken_off_loss=value_broken_off(run, now),
        loss_per_s=task.value / (length_counted_min(run, now) * SECONDS) if task.likely_min else 0.0,
        moves=tuple(n for n in task.can_move_to if n not in run.lanes and gets_there(record, task_id, n))
        if len(run.lanes) == 1 and not begun and not kept else (),
        waits=tuple((o, _seconds(lag)) for o, lag in before if o in projection.slots),
        from_s=_seconds(max([now, *gone, *not_before])),
        windows=() if run.state == IN_WORK else tuple(
            tuple((_seconds(w.from_), _seconds(w.to)) for w in windows.get(kind, ())) for kind in task.needs
        ),
        may_miss=bool(slot.window_missed),
        home=home,
        leg=task.leg is not None,
        without=_without_legs(record, task_id, projection.slots) if not begun and run.task.leg is not None else (),
        watts=watts(task),
    )


def _without_legs(record: Record, leg: str, remaining: Collection[str]) -> tuple[tuple[frozenset[str], int], ...]:
    """How long a leg takes for each set of earlier legs of its lanes that is given up; empty when it is always the same.

    A leg that comes after a get-ahead that has not begun is not among `remaining`: nothing decides whether it goes.
    """
    lanes = set(record.runs[leg].lanes)
    earlier = [
        t for t in record.order[: record.order.index(leg)]
        if record.runs[t].task.leg is not None and lanes & set(record.runs[t].lanes) and record.runs[t].state == NOT_STARTED
        and record.in_plan(t) and t in remaining
    ][-MOST_LEGS_BEFORE:]
    whole = record.runs[leg].remaining_min(max(0.0, record.pet_min))
    found = []
    for size in range(len(earlier) + 1):
        for some in combinations(earlier, size):
            way = leg_durations(record, some).get(leg)
            found.append((frozenset(some), _seconds(whole if way is None else way.likely)))
    return tuple(found) if len({length for _, length in found}) > 1 else ()


def _seconds(minutes: float) -> int:
    return round(minutes * SECONDS)


def _supplies(record: Record, budget: dict[tuple[str, str], Budget], tighten_min: float) -> tuple[Supply, ...]:
    suits = {suit.id: suit for suit in record.plan.suits}
    wearer = {lane.suit: lane.id for lane in record.plan.lanes if lane.suit is not None}
    found = []
    for (suit, name), one in budget.items():
        plain = rate_of(name, suits[suit].consumables()[name])
        rate = Rate(plain.base * one.factor, plain.per_watt * one.factor)
        idle = rate.base + rate.per_watt * watts(None)
        usable = one.left - one.reserve - one.rate_per_h * tighten_min / 60.0
        found.append(Supply(suit, name, wearer[suit], usable, idle, rate))
    return tuple(found)


def tightened(
    problem: Deferral, end_pet_min: float | None, margins_min: Mapping[str, float], limiting: Mapping[str, str]
) -> Deferral | None:
    """The problem, tightened by what an answer overran: the limit, or the supply of a suit, by at least one second.

    Parameters
    ----------
    problem : Deferral
        The one that was solved.
    end_pet_min : float, optional
        Of the answer as projected.
    margins_min : mapping
        Suit -> least margin of the answer.
    limiting : mapping
        Suit -> the consumable of that margin.

    Returns
    -------
    Deferral or None
        None when the answer overran nothing.
    """
    late_s = (end_pet_min or 0.0) * SECONDS - problem.limit_s
    short_s = {(suit, limiting[suit]): -margin * SECONDS for suit, margin in margins_min.items() if margin < 0}
    if late_s <= 0 and not short_s:
        return None
    supplies = tuple(
        replace(one, usable=one.usable - one.idle_per_h / 3600 * max(1.0, short_s[one.suit, one.name]))
        if (one.suit, one.name) in short_s else one
        for one in problem.supplies
    )
    return replace(problem, limit_s=problem.limit_s - math.ceil(max(late_s, 0.0)), supplies=supplies)


def coarsened(problem: Deferral) -> tuple[Deferral, int]:
    """The same problem in the largest unit of time that divides all its times.

    The optimum is the same, and the solver has fewer instants to distinguish. A problem with trims stays in seconds.

    Parameters
    ----------
    problem
        In seconds.

    Returns
    -------
    (Deferral, int)
        The problem, and its unit in seconds.
    """
    if any(item.least_s < item.length_s for item in problem.items):
        return problem, 1
    times = [problem.now_s, problem.limit_s, problem.latest_done_s, *problem.lane_free_s.values()]
    for item in problem.items:
        times += [item.length_s, item.worked_s, item.closeout_s or 0, item.from_s, *(lag for _, lag in item.waits)]
        times += [edge for kind in item.windows for window in kind for edge in window]
        times += [length for _, length in item.without]
    unit = math.gcd(*times) or 1
    return (_in_units(problem, unit), unit) if unit > 1 else (problem, 1)


def _in_units(problem: Deferral, unit: int) -> Deferral:
    items = tuple(
        replace(
            item, worked_s=item.worked_s // unit, length_s=item.length_s // unit, least_s=item.least_s // unit,
            closeout_s=None if item.closeout_s is None else item.closeout_s // unit, loss_per_s=item.loss_per_s * unit,
            without=tuple((gone, length // unit) for gone, length in item.without),
            waits=tuple((other, lag // unit) for other, lag in item.waits), from_s=item.from_s // unit,
            windows=tuple(tuple((begin // unit, to // unit) for begin, to in kind) for kind in item.windows),
        )
        for item in problem.items
    )
    supplies = tuple(
        replace(one, idle_per_h=one.idle_per_h * unit, rate=Rate(one.rate.base * unit, one.rate.per_watt * unit))
        for one in problem.supplies
    )
    return replace(
        problem, items=items, supplies=supplies, now_s=problem.now_s // unit, limit_s=problem.limit_s // unit,
        latest_done_s=problem.latest_done_s // unit,
        lane_free_s={lane: free // unit for lane, free in problem.lane_free_s.items()},
    )
