"""The deferral problem as plain data: what remains, and what may be done to each piece of it. Whole seconds."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

from dashboard.core.lifecycle import IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.physiology import Rate
from dashboard.core.projection import Projection, windows_by_kind
from dashboard.core.record import Record, TaskRun
from dashboard.core.suits import Budget, rate_of, watts

SECONDS = 60


@dataclass(frozen=True)
class Item:
    """One remaining task.

    Parameters
    ----------
    length_s : int
        Work left.
    least_s : int
        Work left when trimmed as far as allowed; equal to `length_s` when it may not be trimmed.
    closeout_s : int or None
        What breaking it off costs; None: may not be broken off.
    loss_per_s : float
        Value lost a second of trim or break-off.
    moves : tuple of str
        Other lanes that can take it.
    after : tuple of str
        Remaining tasks without which it cannot be done.
    waits : tuple of (str, int)
        Remaining tasks it must follow, with lags, when both are done.
    from_s : int
        Earliest start.
    windows : tuple of tuple of (int, int)
        For each kind needed, the windows it may lie in.
    """

    id: str
    lanes: tuple[str, ...]
    in_work: bool
    length_s: int
    least_s: int
    may_defer: bool
    closeout_s: int | None
    priority: int
    value: float
    loss_per_s: float
    moves: tuple[str, ...]
    after: tuple[str, ...]
    waits: tuple[tuple[str, int], ...]
    from_s: int
    windows: tuple[tuple[tuple[int, int], ...], ...]
    watts: float


@dataclass(frozen=True)
class Supply:
    """What one suit may still use of a consumable: `left` less reserve, and its rate an hour."""

    lane: str
    usable: float
    idle_per_h: float
    rate: Rate


@dataclass(frozen=True)
class Deferral:
    """A deferral problem. Times are PET seconds. Items stand in the order of the plan of record."""

    items: tuple[Item, ...]
    now_s: int
    limit_s: int
    lane_free_s: dict[str, int]
    crew: frozenset[str]
    supplies: tuple[Supply, ...]
    latest_done_s: int


def deferral_of(
    record: Record,
    projection: Projection,
    budget: dict[tuple[str, str], Budget],
    limit_pet_min: float,
    *,
    tighten_min: float = 0.0,
    keep: Collection[str] = (),
    length_factor: Callable[[TaskRun], float] = lambda run: 1.0,
) -> Deferral:
    """Extract the problem from a record.

    Parameters
    ----------
    record, projection, budget
        Of the same instant.
    limit_pet_min : float
        Planned limit less reserve.
    tighten_min : float
        Minutes taken off the limit and off what the suits last.
    keep : collection of str
        Tasks that must be done whole.
    length_factor : callable
        Factor on what remains of a task (learned pace).
    """
    now = max(0.0, record.pet_min)
    place = set(projection.sequence)
    windows = windows_by_kind(record.plan.windows)
    items = []
    for task_id in projection.sequence:
        run = record.runs[task_id]
        task, slot = run.task, projection.slots[task_id]
        factor = length_factor(run)
        left = run.remaining_min(now) * factor
        free = not task.required and task_id not in keep
        least = left
        if free and task.shortest is not None:
            least = min(left, max(0.0, task.shortest - run.worked_min(now)) * factor)
        begun = run.state in (IN_WORK, ON_HOLD)
        waits = [(o, _seconds(lag)) for o, lag in projection.predecessors.get(task_id, ()) if o in place]
        gone = [
            run_o.finish_pet_min + lag
            for o, lag in projection.predecessors.get(task_id, ())
            if o not in place and (run_o := record.runs[o]).finish_pet_min is not None
        ]
        not_before = [task.not_before] if task.not_before is not None and run.state == NOT_STARTED else []
        items.append(
            Item(
                id=task_id,
                lanes=run.lanes,
                in_work=run.state == IN_WORK,
                length_s=_seconds(left),
                least_s=_seconds(least),
                may_defer=free and run.state == NOT_STARTED,
                closeout_s=_seconds(task.closeout) if free and begun and task.closeout is not None else None,
                priority=task.priority,
                value=task.value,
                loss_per_s=task.value / (task.likely_min * factor * SECONDS) if task.likely_min else 0.0,
                moves=tuple(n for n in task.can_move_to if n not in run.lanes)
                if len(run.lanes) == 1 and run.state == NOT_STARTED and task_id not in keep else (),
                after=tuple(o for o in task.after if o in place) if run.state == NOT_STARTED else (),
                waits=tuple(waits),
                from_s=_seconds(max([now, *gone, *not_before])),
                windows=() if run.state == IN_WORK or slot.window_missed else tuple(
                    tuple((_seconds(w.from_), _seconds(w.to)) for w in windows.get(kind, ())) for kind in task.needs
                ),
                watts=watts(task),
            )
        )
    crew = frozenset(record.plan.crew_lane_ids())
    done = [
        r.finish_pet_min for r in record.runs.values() if r.finish_pet_min is not None and crew & set(r.lanes)
    ]
    return Deferral(
        items=tuple(items),
        now_s=_seconds(now),
        limit_s=_seconds(limit_pet_min - tighten_min),
        lane_free_s={lane: _seconds(free) for lane, free in projection.lane_free_first.items()},
        crew=crew,
        supplies=_supplies(record, budget, tighten_min),
        latest_done_s=_seconds(max(done, default=0.0)),
    )


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
        found.append(Supply(wearer[suit], usable, idle, rate))
    return tuple(found)
