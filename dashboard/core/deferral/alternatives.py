"""Options of the alternatives: which can be taken, which are done, and which alternatives a change leaves open."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from itertools import product

from dashboard.core.deferral.change import with_change
from dashboard.core.events.change import Change
from dashboard.core.plan.model import Plan
from dashboard.core.record.lifecycle import BROKEN_OFF, DEFERRED, NOT_STARTED
from dashboard.core.record.record import Record


def tasks_of(plan: Plan, choose: Mapping[str, str]) -> list[str]:
    """Tasks of the options that are taken.

    Parameters
    ----------
    plan
        It holds the alternatives.
    choose
        Alternative -> option. Alternatives that are not named add nothing.

    Returns
    -------
    list of str
        Ids, in the order of the plan.
    """
    return [t for a in plan.alternatives if a.id in choose for t in a.options[choose[a.id]]]


def options_to_try(record: Record, base: Record, keep: Collection[str]) -> list[dict[str, str]]:
    """Combinations of options that can still be taken, each as alternative -> option; the defaults come first, unnamed.

    Parameters
    ----------
    record : Record
        Only alternatives that are not chosen and of which no task has begun are varied.
    base : Record
        The same record with the tasks given up that the user asked to give up.
    keep : collection of str
        Tasks that must be in the plan of record.

    Returns
    -------
    list of dict of str to str
        Each alternative -> option. Alternatives that stay at their default are not named. A combination that would leave a
        task of its options or of `keep` out is not among them.
    """
    untouched = [
        a for a in record.plan.alternatives
        if a.id not in record.chosen
        and all(record.runs[t].state in (NOT_STARTED, DEFERRED) for ids in a.options.values() for t in ids)
    ]
    names = [[a.default, *(o for o in a.options if o != a.default)] for a in untouched]
    found = []
    for taken in product(*names):
        choose = {a.id: o for a, o in zip(untouched, taken, strict=True) if o != a.default}
        with_it = with_change(base, Change(choose=choose))
        if not not_done(with_it, choose) and all(with_it.in_plan(t) for t in keep):
            found.append(choose)
    return found


def not_done(record: Record, choose: Mapping[str, str]) -> list[str]:
    """Tasks of the options that `choose` takes that are neither done nor in the plan of record; get-aheads do not count.

    Parameters
    ----------
    record
        With the options taken.
    choose
        Alternative -> option.

    Returns
    -------
    list of str
        Ids; empty when every option is done whole.
    """
    return [t for t in tasks_of(record.plan, choose) if not _is_done(record, t)]


def left_open(record: Record, change: Change) -> dict[str, str]:
    """Alternatives of which a change leaves no option done whole.

    Parameters
    ----------
    record
        Without the change.
    change
        What would be recorded.

    Returns
    -------
    dict of str to str
        Alternative -> a sentence that says so.
    """
    changed = with_change(record, change)
    return {
        a.id: f"{a.title or a.id}, {'neither way' if len(a.options) == 2 else 'none of its ways'} is done"
        for a in record.plan.alternatives
        if not any(all(_is_done(changed, t) for t in tasks) for tasks in a.options.values())
    }


def _is_done(record: Record, task_id: str) -> bool:
    """Whether a task is done, in work, or still in the plan of record; always true of a get-ahead."""
    run = record.runs[task_id]
    return run.task.get_ahead or (record.in_plan(task_id) and run.state != BROKEN_OFF)
