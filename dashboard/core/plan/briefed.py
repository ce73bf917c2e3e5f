"""What of a plan is briefed: the tasks with a start, with the default option of each alternative and without get-aheads."""

from __future__ import annotations

from dashboard.core.plan.model import Plan, Task


def briefed_tasks(plan: Plan, lane: str) -> list[Task]:
    """The tasks of a lane that have a briefed start, with the default options and without get-aheads.

    Parameters
    ----------
    plan
        As briefed.
    lane
        A joint task counts in each of its lanes.

    Returns
    -------
    list of Task
        In the order of the plan.
    """
    left_out = options_not_default(plan)
    return [
        task for task in plan.tasks
        if lane in task.lanes and task.start is not None and not task.get_ahead and task.id not in left_out
    ]


def options_not_default(plan: Plan) -> set[str]:
    """The tasks that only a non-default option brings into the plan.

    Parameters
    ----------
    plan
        As briefed.

    Returns
    -------
    set of str
        Ids of the tasks; empty when the plan has no alternative.
    """
    default = {task_id for a in plan.alternatives for task_id in a.options[a.default]}
    return {task_id for a in plan.alternatives for task_ids in a.options.values() for task_id in task_ids} - default
