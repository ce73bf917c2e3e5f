"""Starts a plan from a recorded run: the plan that it followed, with what the room made of it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from dashboard.core.plan.model import Plan, Task
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from replay.recording import RecordedRun


class PlanOfRun(NamedTuple):
    """A plan made of a run: the plan, and what differs from the plan that the run followed, in sentences."""

    plan: Plan
    changes: tuple[str, ...]


def plan_of_run(run: RecordedRun) -> PlanOfRun:
    """Make a plan of a recorded run.

    Tasks that were added become briefed tasks, with the start that they had, to the minute. One that was
    never begun, or would overlap briefed work, becomes a get-ahead, until somebody gives it a start. The
    options that were taken become the defaults. Durations are those of the brief: one run says too little of them.

    Parameters
    ----------
    run
        Any run.

    Returns
    -------
    PlanOfRun
        As sound as the plan that the run followed.
    """
    record = reconcile(run.plan, run.events, max(event.at for event in run.events))
    known = run.plan.all_tasks()
    added: list[Task] = []
    for task in _added(record):
        if task.id not in known:
            added.append(_as_run(record, task, (*run.plan.tasks, *added)))
    alternatives = tuple(
        one.model_copy(update={"default": record.chosen.get(one.id, one.default)}) for one in run.plan.alternatives
    )
    changes = [
        f"{task.id} {task.title}".strip() + f" was added in the run{', and is a get-ahead here' if task.get_ahead else ''}."
        for task in added
    ]
    changes += [
        f"'{one.default}' was taken for {one.id}." for one, before in zip(alternatives, run.plan.alternatives, strict=True)
        if one.default != before.default
    ]
    plan = run.plan.model_copy(update={"tasks": (*run.plan.tasks, *added), "alternatives": alternatives})
    return PlanOfRun(plan, tuple(changes))


def _added(record: Record) -> Iterable[Task]:
    return (run.task for run in record.runs.values() if run.origin == "added")


def _as_run(record: Record, task: Task, others: Iterable[Task]) -> Task:
    if task.get_ahead:
        return task
    made, start = task, record.runs[task.id].start_pet_min
    if task.start is None and start is not None:
        made = task.model_copy(update={"start": float(round(max(0.0, start)))})
    if made.start is not None and not any(_overlap(made, other) for other in others):
        return made
    return task.model_copy(update={"start": None, "get_ahead": True})


def _overlap(one: Task, other: Task) -> bool:
    if one.start is None or other.start is None or not set(one.lanes) & set(other.lanes):
        return False
    return one.start < other.start + other.likely_min and other.start < one.start + one.likely_min
