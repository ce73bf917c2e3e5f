"""The options of the alternatives: which are done, and which alternatives a change leaves open."""

from __future__ import annotations

from collections.abc import Mapping

from dashboard.core.deferral.change import Change, with_change
from dashboard.core.plan.model import Plan
from dashboard.core.record.lifecycle import BROKEN_OFF
from dashboard.core.record.record import Record


def tasks_of(plan: Plan, choose: Mapping[str, str]) -> list[str]:
    """The tasks of the options taken; `choose` is alternative -> option."""
    return [t for a in plan.alternatives if a.id in choose for t in a.options[choose[a.id]]]


def not_done(record: Record, choose: Mapping[str, str]) -> list[str]:
    """The tasks of the options taken that are neither done nor in the plan of record; get-aheads do not count."""
    return [t for t in tasks_of(record.plan, choose) if not _is_done(record, t)]


def left_open(record: Record, change: Change) -> dict[str, str]:
    """The alternatives of which no option is done whole with a change: name -> that in words."""
    changed = with_change(record, change)
    return {
        a.id: f"{a.title or a.id}, {'neither way' if len(a.options) == 2 else 'none of its ways'} is done"
        for a in record.plan.alternatives
        if not any(all(_is_done(changed, t) for t in tasks) for tasks in a.options.values())
    }


def _is_done(record: Record, task_id: str) -> bool:
    """Whether a task is done, in hand, or still to be done; of a get-ahead nothing is asked."""
    run = record.runs[task_id]
    return run.task.get_ahead or (record.in_plan(task_id) and run.state != BROKEN_OFF)
