"""Recurring checks that fall due inside joint tasks, where nobody has a hand free for them."""

from __future__ import annotations

from collections.abc import Iterator

from dashboard.core.base.wording import listed
from dashboard.core.outlook.briefed import Briefed, found, pet
from dashboard.core.plan.fields import Finding

MOST_NAMED = 4


def check_recurring(briefed: Briefed) -> Iterator[Finding]:
    """When each check falls due at plan pace, counted from PET zero.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Yields
    ------
    Finding
        A note for each check that falls due inside joint tasks.
    """
    end, runs = briefed.projection.end_pet_min or 0.0, briefed.record.runs
    joint = [(t, slot) for t, slot in briefed.projection.slots.items() if len(runs[t].lanes) > 1]
    for at, check in enumerate(briefed.plan.checks):
        lanes, hits = set(check.lanes), dict[str, float]()
        due = check.every
        while due < end:
            for task_id, slot in joint:
                if lanes & set(runs[task_id].lanes) and slot.start_pet_min < due < slot.finish_pet_min:
                    hits.setdefault(task_id, due)
            due += check.every
        if hits:
            named = [f"{task_id} at {pet(when)}" for task_id, when in list(hits.items())[:MOST_NAMED]]
            more = [f"{len(hits) - MOST_NAMED} more"] if len(hits) > MOST_NAMED else []
            yield found(
                "check-in-joint-task", "note", ("check", at), f"check {check.id}", "times between joint tasks",
                f"it falls due inside {listed([*named, *more])}", "Brief it before or after these tasks.",
            )
