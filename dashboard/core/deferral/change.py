"""A change applied to a record, what goes along with it, and the value that it loses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dashboard.core.deferral.sense import closed_under, rules_of_sense
from dashboard.core.events.change import Change
from dashboard.core.record.lifecycle import BROKEN_OFF, DEFERRED, IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record, TaskRun, legs_not_needed, out_of_plan


def with_change(record: Record, change: Change) -> Record:
    """A copy of the record with the change applied now.

    Parameters
    ----------
    record
        It is not changed.
    change
        Deferring a task that has begun has no effect, and neither has breaking off work that is not in hand.

    Returns
    -------
    Record
        It shares with `record` the runs of the tasks that the change does not touch.
    """
    touched = {*change.given_up(), *change.extend, *change.move}
    runs = {task_id: replace(run) if task_id in touched else run for task_id, run in record.runs.items()}
    for task_id in change.defer:
        if runs[task_id].state == NOT_STARTED:
            runs[task_id].state = DEFERRED
    for task_id, minutes in change.lengths().items():
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
    """The change without the parts that concern tasks which its options leave out of the plan anyway."""
    with_it = with_change(record, Change(choose=change.choose))
    gone = {t for t, out in with_it.out_because.items() if not out.deferred and record.in_plan(t)}
    return change.without_tasks(gone)


def closed(record: Record, change: Change) -> Change:
    """The change with every task deferred that cannot be done, or makes no sense, without a task it gives up (see `sense`).

    Tasks that a chosen option leaves out are not counted as given up. Tasks that come `after` work that is broken off are
    deferred too; a person is asked about them instead. A get-ahead that has not begun is not deferred: it is not in the plan
    of record yet.

    Parameters
    ----------
    record
        Without the change.
    change
        As asked for.

    Returns
    -------
    Change
        With the tasks that go along added to `defer`, and without acts on tasks that its options leave out anyway.
    """
    change = _still_in_plan(record, change) if change.choose else change
    broken = set(change.break_off)
    counted = [t for t in record.order if record.in_plan(t) and t not in change.defer and not _is_waiting(record.runs[t])]
    orphans = [
        t for t in counted
        if record.runs[t].state == NOT_STARTED and not record.runs[t].kept and broken & set(record.runs[t].task.after)
    ]
    change = change.and_defer(orphans)
    out = with_change(record, change).out_because
    along = [t for t in counted if t in out and out[t].deferred and t not in change.defer]
    return _and_what_makes_no_sense_without(record, change.and_defer(along))


def _and_what_makes_no_sense_without(record: Record, change: Change) -> Change:
    """The change with every task deferred that goes along by the rules of sense."""
    with_it = with_change(record, Change(choose=change.choose)) if change.choose else record
    left_out = {t for t in with_it.out_because if record.in_plan(t)}
    remaining = [t for t in with_it.order if not _is_waiting(with_it.runs[t]) and (with_it.in_plan(t) or t in left_out)]
    not_needed = _legs_not_needed(record, change)
    gone = {*change.defer, *change.break_off, *left_out}
    rules = rules_of_sense(with_it, remaining)
    found = closed_under(rules, gone - not_needed)
    # Left without use are tasks that serve only what goes and legs that are not needed.
    served = {t: frozenset(with_it.runs[t].task.serves) & set(remaining) for t in remaining} if not_needed else {}
    useless = {
        rule.goes for rule in rules
        if not_needed and rule.all_of == served[rule.goes] and rule.all_of <= found | not_needed
    }
    along = closed_under(rules, found | useless) - gone
    return change.and_defer(t for t in record.order if t in along)


def _legs_not_needed(record: Record, change: Change) -> set[str]:
    """Legs of a change that would go by themselves, given the rest of it: they take along only what serves nothing else."""
    legs = {t for t in change.defer if record.runs[t].task.leg is not None}
    return legs_not_needed(with_change(record, change.without_tasks(legs)), legs) if legs else set()


def _is_waiting(run: TaskRun) -> bool:
    """Whether it is a get-ahead that has not begun."""
    return run.task.get_ahead and run.state == NOT_STARTED


def _reordered(order: Sequence[str], new: Sequence[str]) -> list[str]:
    """The order with the tasks of `new` rearranged among the places that they occupy."""
    if not new:
        return list(order)
    moved = set(new)
    following = iter(new)
    return [next(following) if task_id in moved else task_id for task_id in order]


def length_counted_min(run: TaskRun, pet_min: float) -> float:
    """The whole length that a cut is a share of: the likely length, or what the task has grown to if that is longer.

    Parameters
    ----------
    run
        The task.
    pet_min
        PET minutes at which the cut is made.

    Returns
    -------
    float
        Minutes.
    """
    return max(run.task.likely_min, run.worked_min(pet_min) + run.remaining_min(pet_min))


def value_left(run: TaskRun) -> float:
    """The value that a task can still bring: all of it, or the share of its likely length that a trim has left.

    0 for a get-ahead that has not begun, and for a leg: it is worth what is done at its end.

    Parameters
    ----------
    run
        The task.

    Returns
    -------
    float
        In the unit of the plan's `value`.
    """
    if _is_waiting(run) or run.task.leg is not None:
        return 0.0
    if not run.length_set or not run.task.likely_min:
        return run.task.value
    return run.task.value * min(1.0, run.planned_min / run.task.likely_min)


def value_broken_off(run: TaskRun, pet_min: float) -> float:
    """The value lost when work in hand is broken off: the share of its length that is left undone.

    Before its shortest useful length it is of no use yet: all the value that it could bring is lost.

    Parameters
    ----------
    run
        A task in work or on hold.
    pet_min
        PET minutes at which it is broken off.

    Returns
    -------
    float
        In the unit of the plan's `value`.
    """
    shortest = run.task.shortest
    if shortest is not None and run.worked_min(pet_min) < shortest:
        return value_left(run)
    return _value_cut(run, run.remaining_min(pet_min), pet_min)


def _value_cut(run: TaskRun, cut_min: float, pet_min: float) -> float:
    if not run.task.likely_min:
        return 0.0
    return run.task.value * min(1.0, max(0.0, cut_min / length_counted_min(run, pet_min)))


def value_lost(record: Record, change: Change) -> dict[int, float]:
    """Value lost in each priority class.

    A deferred task loses the value that it could still bring. A trimmed task loses value in proportion to the share of its
    length that is cut; so does one that is broken off, once it has reached its shortest useful length (`value_broken_off`).

    Parameters
    ----------
    record
        Without the change.
    change
        With every task that goes along (see `closed`).

    Returns
    -------
    dict of int to float
        Priority class -> value, class 1 first. A class that loses nothing may be absent.
    """
    lost: dict[int, float] = {}

    def lose(run: TaskRun, value: float) -> None:
        lost[run.task.priority] = lost.get(run.task.priority, 0.0) + value

    for task_id in change.defer:
        if not _is_waiting(record.runs[task_id]):
            lose(record.runs[task_id], value_left(record.runs[task_id]))
    now = max(0.0, record.pet_min)
    for task_id, length_min in change.trim.items():
        run = record.runs[task_id]
        lose(run, _value_cut(run, run.remaining_min(now) - (length_min - run.worked_min(now)), now))
    for task_id in change.break_off:
        lose(record.runs[task_id], value_broken_off(record.runs[task_id], now))
    return dict(sorted(lost.items()))
