"""Checks a proposed change against the record, knowing nothing of the optimiser."""

from __future__ import annotations

from dashboard.core.deferral.change import Change, with_change
from dashboard.core.deferral.whatif import broken_rules
from dashboard.core.lifecycle import DONE, IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.projection import project
from dashboard.core.record import Record
from dashboard.core.suits import budgets

_TOLERANCE_MIN = 0.05


def faults(record: Record, change: Change, limit_pet_min: float, *, tighten_min: float = 0.0) -> list[str]:
    """What is wrong with a proposal, in words; empty when it holds at plan pace.

    Touching nothing that is over, keeping the plan's rules, leaving no task in the plan whose `after` is gone, being
    in by the limit, and every consumable above its reserve.
    """
    found = list(broken_rules(record, change))
    for task_id in change.defer:
        if record.runs[task_id].state != NOT_STARTED:
            found.append(f"{task_id} is {record.runs[task_id].state}, not to be deferred")
    for task_id in change.break_off:
        if record.runs[task_id].state not in (IN_WORK, ON_HOLD):
            found.append(f"{task_id} is {record.runs[task_id].state}, not to be broken off")
    changed = with_change(record, change)
    projection = project(changed)
    for task_id in projection.sequence:
        for needed in changed.runs[task_id].task.after:
            gone = needed not in projection.slots and changed.runs[needed].state != DONE
            if gone and needed in (*change.defer, *change.break_off):
                found.append(f"{task_id} stays although {needed} goes")
    end = projection.end_pet_min
    if end is not None and end > limit_pet_min - tighten_min + _TOLERANCE_MIN:
        found.append(f"in at {end:.1f} min, limit {limit_pet_min - tighten_min:.1f} min")
    for (suit, name), one in budgets(changed, projection).items():
        if one.margin_min < tighten_min - _TOLERANCE_MIN:
            found.append(f"suit {suit} {name} short by {-one.margin_min:.1f} min")
    return found
