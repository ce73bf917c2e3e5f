"""A set of changes to the plan of record, and the record as it would be with them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from dashboard.core.record.lifecycle import BROKEN_OFF, DEFERRED, IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record, TaskRun, out_of_plan


@dataclass(frozen=True)
class Change:
    """What is given up or changed. `trim` is minutes of new whole length; `move` is task -> lane.

    `order` lists remaining tasks in a new order; empty keeps the order.
    """

    defer: tuple[str, ...] = ()
    trim: Mapping[str, float] = field(default_factory=dict)
    break_off: tuple[str, ...] = ()
    move: Mapping[str, str] = field(default_factory=dict)
    choose: Mapping[str, str] = field(default_factory=dict)
    order: tuple[str, ...] = ()

    def given_up(self) -> tuple[str, ...]:
        """The tasks that lose something: deferred, trimmed or broken off."""
        return (*self.defer, *self.trim, *self.break_off)

    def count(self) -> int:
        """How many changes it is."""
        return len(self.defer) + len(self.trim) + len(self.break_off) + len(self.move) + len(self.choose)


def with_change(record: Record, change: Change) -> Record:
    """A copy of the record with the change applied now; the record itself stays as it is."""
    touched = {*change.given_up(), *change.move}
    runs = {task_id: replace(run) if task_id in touched else run for task_id, run in record.runs.items()}
    for task_id in change.defer:
        if runs[task_id].state == NOT_STARTED:
            runs[task_id].state = DEFERRED
    for task_id, minutes in change.trim.items():
        runs[task_id].planned_min, runs[task_id].length_set = minutes, True
        runs[task_id].whole_by_estimate_min = None
    for task_id in change.break_off:
        run = runs[task_id]
        if run.state in (IN_WORK, ON_HOLD):
            run.worked_before_min, run.working_since_pet_min = run.worked_min(record.pet_min), None
            run.state, run.finish_pet_min = BROKEN_OFF, max(0.0, record.pet_min)
    for task_id, lane in change.move.items():
        runs[task_id].lanes = (lane,)
    copy = replace(
        record, runs=runs, order=_reordered(record.order, change.order), chosen={**record.chosen, **change.choose}
    )
    copy.out_because = out_of_plan(copy)
    return copy


def _still_in_plan(record: Record, change: Change) -> Change:
    """The change less what it says of tasks that the option taken leaves out anyway."""
    with_it = with_change(record, Change(choose=change.choose))
    gone = {t for t, out in with_it.out_because.items() if not out.deferred and record.in_plan(t)}
    return replace(
        change, defer=tuple(t for t in change.defer if t not in gone),
        trim={t: m for t, m in change.trim.items() if t not in gone},
        move={t: lane for t, lane in change.move.items() if t not in gone},
    )


def closed(record: Record, change: Change) -> Change:
    """The change with everything that goes along: what comes `after` a task that is given up is deferred too.

    What an option that is taken leaves out is left out, and not given up.

    A person who breaks a task off is asked about what comes after it; advice answers that by deferring it. A get-ahead
    does not go along: it is not in the plan until it is begun.
    """
    change = _still_in_plan(record, change) if change.choose else change
    broken = set(change.break_off)
    counted = [t for t in record.order if record.in_plan(t) and t not in change.defer and not _is_waiting(record.runs[t])]
    orphans = [
        t for t in counted
        if record.runs[t].state == NOT_STARTED and not record.runs[t].kept and broken & set(record.runs[t].task.after)
    ]
    change = replace(change, defer=(*change.defer, *orphans)) if orphans else change
    out = with_change(record, change).out_because
    along = [t for t in counted if t in out and out[t].deferred and t not in change.defer]
    return replace(change, defer=(*change.defer, *along)) if along else change


def _is_waiting(run: TaskRun) -> bool:
    """Whether it is a get-ahead that has not begun."""
    return run.task.get_ahead and run.state == NOT_STARTED


def _reordered(order: Sequence[str], new: Sequence[str]) -> list[str]:
    """The order with the tasks of `new` in their new order, in the places they hold together."""
    if not new:
        return list(order)
    moved = set(new)
    following = iter(new)
    return [next(following) if task_id in moved else task_id for task_id in order]


def length_counted_min(run: TaskRun, pet_min: float) -> float:
    """The length in minutes that a cut is a share of: the likely one, or what the task has grown to if that is longer."""
    return max(run.task.likely_min, run.worked_min(pet_min) + run.remaining_min(pet_min))


def value_left(run: TaskRun) -> float:
    """The value of a task that is still to be had: all of it, or the share that a trim has left of its likely length.

    None of a get-ahead before it is begun.
    """
    if _is_waiting(run):
        return 0.0
    if not run.length_set or not run.task.likely_min:
        return run.task.value
    return run.task.value * min(1.0, run.planned_min / run.task.likely_min)


def value_lost(record: Record, change: Change) -> dict[int, float]:
    """Value lost by priority class: what is left of a deferred task's; of one trimmed or broken off, the share cut."""
    lost: dict[int, float] = {}

    def lose(run: TaskRun, value: float) -> None:
        lost[run.task.priority] = lost.get(run.task.priority, 0.0) + value

    for task_id in change.defer:
        if not _is_waiting(record.runs[task_id]):
            lose(record.runs[task_id], value_left(record.runs[task_id]))
    now = max(0.0, record.pet_min)
    for task_id in (*change.trim, *change.break_off):
        run = record.runs[task_id]
        left = run.remaining_min(now)
        cut = left if task_id not in change.trim else left - (change.trim[task_id] - run.worked_min(now))
        whole = length_counted_min(run, now)
        lose(run, run.task.value * min(1.0, max(0.0, cut / whole)) if run.task.likely_min else 0.0)
    return dict(sorted(lost.items()))
