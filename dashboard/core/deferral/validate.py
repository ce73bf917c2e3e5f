"""Checks a proposed change against the record. It knows no solver."""

from __future__ import annotations

from collections.abc import Collection

from dashboard.core.base.minutes import clock, length
from dashboard.core.deferral.change import with_change
from dashboard.core.deferral.rules import BrokenRule, rules_broken
from dashboard.core.events.change import Change
from dashboard.core.record.lifecycle import DONE, IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record
from dashboard.core.schedule.plan_pace import Projection, project
from dashboard.core.suits.budget import budgets

_TOLERANCE_MIN = 0.05


def faults(
    record: Record, change: Change, limit_pet_min: float | None, *, asked: Collection[str] = ()
) -> list[BrokenRule]:
    """Rules that a proposal breaks.

    A proposal changes nothing that is over, keeps the rules of the plan, gives up no task of an inserted contingency, does
    every task of an option that it takes, leaves no task in the plan that comes `after` one it gives up, and pushes no task
    past its windows. With a limit, the crew is in by it at plan pace, every consumable above its reserve.

    Parameters
    ----------
    record : Record
        Without the change.
    change : Change
        The proposal.
    limit_pet_min : float, optional
        None: the limit and the suits are judged by draws, elsewhere.
    asked : collection of str
        Tasks that a person asked to give up.

    Returns
    -------
    list of BrokenRule
        Empty when it breaks none.
    """
    found = rules_broken(record, change, asked)
    for task_id in change.defer:
        if record.runs[task_id].state != NOT_STARTED:
            words = f"{task_id} is {record.runs[task_id].state}, not to be deferred"
            found.append(BrokenRule("not to be deferred", task_id, words))
    for task_id in (*change.break_off, *change.trim):
        run = record.runs[task_id]
        if run.state not in (IN_WORK, ON_HOLD) and not (task_id in change.trim and run.state == NOT_STARTED):
            found.append(BrokenRule("not to be cut", task_id, f"{task_id} is {run.state}, not to be cut"))
    for task_id in change.extend:
        if (state := record.runs[task_id].state) not in (NOT_STARTED, IN_WORK, ON_HOLD):
            found.append(BrokenRule("never extended", task_id, f"{task_id} is {state}, not to be extended"))
    changed = with_change(record, change)
    projection = project(changed)
    found += _left_behind(changed, projection, change)
    before = project(record)
    for task_id, slot in projection.slots.items():
        missed_anyway = task_id in before.slots and before.slots[task_id].window_missed
        if slot.window_missed and not missed_anyway:
            words = f"{task_id} would miss its window: {', '.join(slot.window_missed)}"
            found.append(BrokenRule("window missed", task_id, words))
    if limit_pet_min is None:
        return found
    end = projection.end_pet_min
    if end is not None and end > limit_pet_min + _TOLERANCE_MIN:
        found.append(BrokenRule("past the limit", "end", f"in at PET {clock(end, 'up')}, limit PET {clock(limit_pet_min)}"))
    for (suit, name), one in budgets(changed, projection).items():
        if one.margin_min < -_TOLERANCE_MIN:
            words = f"suit {suit} {name} short by {length(-one.margin_min, 'up')}"
            found.append(BrokenRule("suit short", suit, words))
    return found


def _left_behind(changed: Record, projection: Projection, change: Change) -> list[BrokenRule]:
    found: list[BrokenRule] = []
    for task_id in projection.sequence:
        for needed in changed.runs[task_id].task.after:
            gone = needed not in projection.slots and changed.runs[needed].state != DONE
            if gone and needed in (*change.defer, *change.break_off):
                found.append(BrokenRule("left behind", task_id, f"{task_id} stays although {needed} goes"))
    return found
