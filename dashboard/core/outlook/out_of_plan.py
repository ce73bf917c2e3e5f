"""Ordinary work that is not in the plan of record at PET zero: no figure counts it, so nobody would see that it is missing."""

from __future__ import annotations

from collections.abc import Iterator

from dashboard.core.base.wording import listed
from dashboard.core.outlook.briefed import Briefed, found, named
from dashboard.core.plan.fields import Finding
from dashboard.core.plan.model import Task


def check_out_of_plan(briefed: Briefed) -> Iterator[Finding]:
    """Each task that the brief has in the sortie is projected.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Yields
    ------
    Finding
        An error for each ordinary task that comes after a get-ahead, or that nothing takes its lanes to.
    """
    for task in briefed.ordinary:
        if task.id in briefed.projection.slots:
            continue
        out = briefed.record.out_because.get(task.id)
        ahead = _get_aheads_before(briefed, task)
        if out is None and not ahead:
            continue
        why = out.why if out is not None else f"it comes after {listed(ahead)}, done only with time in hand"
        yield found(
            "out-of-plan", "error", briefed.place(task.id, "after" if ahead else "start"), named(task),
            "an ordinary task that is in the plan of record at PET zero", f"it is not: {why}",
            "Make it a get-ahead too, or let nothing that it needs be a get-ahead.",
        )


def _get_aheads_before(briefed: Briefed, task: Task) -> list[str]:
    """The get-aheads that a task comes after, directly or by other tasks."""
    tasks = {one.id: one for one in briefed.plan.tasks}
    seen: dict[str, None] = {}
    left = list(task.after)
    while left:
        name = left.pop()
        if name in tasks and name not in seen:
            seen[name] = None
            left += tasks[name].after
    return [name for name in seen if tasks[name].get_ahead]
