"""The waits of each lane as briefed: how long, what for, and what fits into them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from dashboard.core.brief.facts import BriefWait, Fill, FillHow, Wait
from dashboard.core.plan.briefed import briefed_tasks, options_not_default
from dashboard.core.plan.model import Plan, Task
from dashboard.core.schedule.windows import TINY_MIN, windows_by_kind

LEAST_WAIT_MIN = 1.0


def waits_of(plan: Plan) -> list[BriefWait]:
    """The stretches of each lane without briefed work, between two of its tasks.

    Parameters
    ----------
    plan
        As briefed; the default option of each alternative counts.

    Returns
    -------
    list of BriefWait
        Of at least one minute, in order of time.
    """
    left_out = options_not_default(plan)
    every = {one.id: one for one in plan.tasks if one.start is not None and one.id not in left_out}
    found = [wait for lane in plan.lane_ids() for wait in _of_lane(plan, lane, every)]
    return sorted(found, key=lambda one: (one.from_pet_min, plan.lane_ids().index(one.lane)))


def in_order(tasks: Sequence[Task]) -> list[Task]:
    """Tasks in order of briefed start, then as in the plan.

    Parameters
    ----------
    tasks
        Each has a briefed start.

    Returns
    -------
    list of Task
    """
    return sorted(tasks, key=lambda task: task.start or 0.0)


def finish_of(task: Task) -> float:
    """Briefed finish.

    Parameters
    ----------
    task
        With a briefed start.

    Returns
    -------
    float
        PET minutes.
    """
    return (task.start or 0.0) + task.likely_min


def _of_lane(plan: Plan, lane: str, every: Mapping[str, Task]) -> Iterator[BriefWait]:
    free_from, here = 0.0, None
    for task in in_order(briefed_tasks(plan, lane)):
        start = task.start or 0.0
        if start - free_from >= LEAST_WAIT_MIN:
            yield BriefWait(
                lane=lane, from_pet_min=free_from, to_pet_min=start, before=task.id, worksite=here,
                wait=_waited_for(plan, task, lane, free_from, every), fills=_fills(plan, lane, here, free_from, start),
            )  # fmt: skip
        free_from = max(free_from, finish_of(task))
        here = task.leg or task.worksite or here


def _waited_for(plan: Plan, task: Task, lane: str, free_from: float, every: Mapping[str, Task]) -> Wait:
    """What lets a task begin no earlier than briefed: the last of what it needs, if that ends after the lane is free."""
    start = task.start or 0.0
    bounds: list[tuple[float, int, Wait]] = []
    for name, lag in [*((name, 0.0) for name in task.after), *((one.task, one.lag) for one in task.follows)]:
        if name in every:
            bounds.append((finish_of(every[name]) + lag, 3, Wait(kind="task", name=name)))
    for other in task.lanes:
        before = [end for one in every.values() if other in one.lanes and (end := finish_of(one)) <= start + TINY_MIN]
        if other != lane and before:
            bounds.append((max(before), 2, Wait(kind="lane", name=other)))
    windows = windows_by_kind(plan.windows)
    for kind in task.needs:
        opened = [w.from_ for w in windows.get(kind, ()) if w.from_ <= start + TINY_MIN]
        bounds += [(max(opened), 1, Wait(kind="window", name=kind))] if opened else []
    if task.not_before is not None:
        bounds.append((task.not_before, 0, Wait(kind="not before")))
    within = [one for one in bounds if free_from + TINY_MIN < one[0] <= start + TINY_MIN]
    return max(within, key=lambda one: one[:2], default=(0.0, 0, Wait(kind="no reason")))[2]


def _fills(plan: Plan, lane: str, here: str | None, begin: float, end: float) -> list[Fill]:
    """Tasks that fit into a wait at the worksite where the lane is, and need no one else."""
    every, left_out = {one.id: one for one in plan.tasks}, options_not_default(plan)
    found: list[Fill] = []
    for task in plan.tasks:
        how = _how(task, lane, end)
        fits = task.likely_min <= end - begin + TINY_MIN and task.leg is None and not task.required and not task.needs
        if how is None or not fits or task.worksite not in (None, here) or task.id in left_out:
            continue
        if (task.not_before or 0.0) <= begin + TINY_MIN and _may_begin(task, every, begin):
            found.append(Fill(task=task.id, how=how, min=task.likely_min))
    return found


def _how(task: Task, lane: str, end: float) -> FillHow | None:
    if len(task.lanes) > 1:
        return None
    if task.get_ahead:
        return "get-ahead" if lane in task.lanes or lane in task.can_move_to else None
    if task.start is None or task.start < end - TINY_MIN:
        return None
    return "bring forward" if lane in task.lanes else "hand over" if lane in task.can_move_to else None


def _may_begin(task: Task, every: Mapping[str, Task], begin: float) -> bool:
    """Whether everything that a task comes after is briefed to be done by then, and what it follows if that is briefed."""
    if not all(name in every and every[name].start is not None for name in task.after):
        return False
    before = [*((name, 0.0) for name in task.after), *((one.task, one.lag) for one in task.follows)]
    return all(
        finish_of(every[name]) + lag <= begin + TINY_MIN
        for name, lag in before if name in every and every[name].start is not None
    )
