"""What a sortie leaves to the next: the tasks that are not done, how much of each remains, and what each needs."""

from __future__ import annotations

from collections.abc import Set
from typing import Literal

from dashboard.core.debrief.facts import LeftBecause, LeftOpen, LeftTask
from dashboard.core.record.lifecycle import BROKEN_OFF, DONE, IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record, TaskRun

RemainingFrom = Literal["briefed length", "estimate", "briefed length less work done", "briefed length again"]


BEGUN = (IN_WORK, ON_HOLD, DONE, BROKEN_OFF)


def carry_over(record: Record) -> list[LeftTask]:
    """The tasks that are left, in the order of the plan of record; options not taken are no carry-over.

    While the sortie has not ended only what is out of the plan of record or broken off is left: the rest may still be
    done.
    """
    left = _all_left(record)
    return [_left(record, record.runs[task_id], because, set(left)) for task_id, because in left.items()]


def left_open(record: Record) -> LeftOpen:
    """What was prepared and still matters to what is left.

    A contingency that was not inserted may happen yet; one that was may happen again while a task that it puts on hold is
    left. Where its own tasks are left, they are tasks of the carry-over, and it is not. An alternative of which no option
    was begun can still be taken either way, as long as the option in force is left to do.
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
    """Why each task is left, in the order of the plan of record."""
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
    """How much of a task remains, and where that figure comes from.

    The estimate that stood when work stopped, less the work since; else the briefed length less the work done. Where
    the work had already taken longer than briefed, no figure is known: the briefed length is taken again, and said so.
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
