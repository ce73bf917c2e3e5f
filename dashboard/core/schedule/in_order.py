"""Briefed starts from the order of the tasks, for a plan that does not give them."""

from __future__ import annotations

from collections.abc import Set

from dashboard.core.plan.model import Plan, Task
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project


def begun_in_order(plan: Plan, without: Set[str] = frozenset()) -> tuple[Task, ...]:
    """Give each task the start that the plan pace gives it from PET zero on.

    Parameters
    ----------
    plan
        The place of a task in the file is its place in its lanes; starts that are given do not count.
    without
        Tasks that get no start, as get-aheads do not.

    Returns
    -------
    tuple of Task
        A task begins as soon as its lanes, links and windows let it; one that is in no figure begins at PET zero.
    """
    placed = tuple(
        task.model_copy(update={"start": None if task.get_ahead or task.id in without else 0.0}) for task in plan.tasks
    )
    slots = project(reconcile(plan.model_copy(update={"tasks": placed}), [], plan.sortie.start)).slots
    return tuple(
        task if task.start is None
        else task.model_copy(update={"start": slots[task.id].start_pet_min if task.id in slots else 0.0})
        for task in placed
    )
