"""The carry-over of a sortie: the tasks that it leaves, how much of each remains, and what each needs."""

from __future__ import annotations

from collections.abc import Set
from typing import Literal

from dashboard.core.debrief.facts import LeftBecause, LeftOpen, LeftTask
from dashboard.core.record.lifecycle import BROKEN_OFF, DONE, IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record, TaskRun

RemainingFrom = Literal["briefed length", "estimate", "briefed length less work done", "briefed length again"]


BEGUN = (IN_WORK, ON_HOLD, DONE, BROKEN_OFF)


def carry_over(record: Record) -> list[LeftTask]:
    """The tasks that the sortie leaves.

    Tasks of options that were not taken are no carry-over. Before the sortie has ended, only deferred tasks and tasks
    that were broken off are left, because the others may still be done.

    Parameters
    ----------
    record : Record

    Returns
    -------
    list of LeftTask
        In the order of the plan of record.
    """
    left = _all_left(record)
    return [_left(record, record.runs[task_id], because, set(left)) for task_id, because in left.items()]


def left_open(record: Record) -> LeftOpen:
    """The contingencies and alternatives that go with the carry-over.

    - A contingency goes along if it was not inserted, or if a task that it puts on hold is left. It does not go along if
      one of its own tasks is left: that task is then part of the carry-over.
    - An alternative goes along if no task of any of its options was begun and a task of the option in force is left. After
      the end of the sortie it also goes along if the option in force has no tasks.

    Parameters
    ----------
    record : Record

    Returns
    -------
    LeftOpen
    """
    left = _all_left(record)
    contingencies = [
        c.id for c in record.plan.contingencies
        if not left.keys() & {task.id for task in c.tasks} and (c.id not in record.inserted or left.keys() & set(c.hold))
    ]
    alternatives = {}
    for one in record.plan.alternatives:
        option = record.chosen.get(one.id, one.default)
        begun = any(record.runs[t].state in BEGUN for names in one.options.values() for t in names if t in record.runs)
        does_nothing = not one.options[option] and record.end_pet_min is not None
        if not begun and (does_nothing or left.keys() & set(one.options[option])):
            alternatives[one.id] = option
    return LeftOpen(contingencies=contingencies, alternatives=alternatives)


def _all_left(record: Record) -> dict[str, LeftBecause]:
    """For each task that is left, in the order of the plan of record: why."""
    return {task_id: because for task_id in record.order if (because := _left_because(record, record.runs[task_id]))}


def _left_because(record: Record, run: TaskRun) -> LeftBecause | None:
    out = record.out_because.get(run.task.id)
    if run.state == DONE or (out is not None and not out.deferred):
        return None
    if run.state == BROKEN_OFF:
        return "broken off"
    if out is not None:
        return "deferred"
    if record.end_pet_min is None:
        return None
    if run.state == ON_HOLD:
        return "on hold"
    if run.state == IN_WORK:
        return "in work"
    return "get-ahead" if run.task.get_ahead else "not done"


def _left(record: Record, run: TaskRun, because: LeftBecause, left: Set[str]) -> LeftTask:
    task, out = run.task, record.out_because.get(run.task.id)
    remaining, remaining_from = remaining_length(record, run)
    before = (*task.after, *(follow.task for follow in task.follows))
    return LeftTask(
        task=task.id,
        title=task.title,
        because=because,
        why=out.why if out is not None else because,
        remaining_min=remaining,
        remaining_from=remaining_from,
        worked_min=run.worked_min(record.pet_min),
        lanes=list(run.lanes),
        worksite=task.worksite,
        activity=task.activity,
        needs=list(task.needs),
        after_left=[name for name in dict.fromkeys(before) if name in left],
        after_done=[name for name in dict.fromkeys(task.after) if name not in left],
        given=task,
    )


def remaining_length(record: Record, run: TaskRun) -> tuple[float, RemainingFrom]:
    """How much of a task remains.

    - Not begun: the briefed length.
    - With an estimate: the estimate less the work since.
    - Without one: the briefed length less the work done.
    - Without one, and already longer than briefed: the briefed length again, because no better figure is known.

    Parameters
    ----------
    record : Record
    run : TaskRun

    Returns
    -------
    tuple of (float, str)
        Minutes, and where the figure comes from.
    """
    if run.state == NOT_STARTED or (not run.spans and run.working_since_pet_min is None):
        return run.task.likely_min, "briefed length"
    estimate = run.estimate_min(record.pet_min)
    if estimate:
        return estimate, "estimate"
    remaining = run.task.likely_min - run.worked_min(record.pet_min)
    if remaining > 0:
        return remaining, "briefed length less work done"
    return run.task.likely_min, "briefed length again"
