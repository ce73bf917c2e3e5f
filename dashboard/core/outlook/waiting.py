"""Waits before joint tasks: a crew member who has nothing to do until the others come."""

from __future__ import annotations

from collections.abc import Iterator

from dashboard.core.base.minutes import length
from dashboard.core.outlook.briefed import Briefed, found, named, pet
from dashboard.core.plan.fields import Finding

LONG_WAIT_MIN = 15.0


def check_waits(briefed: Briefed) -> Iterator[Finding]:
    """Each crew lane of each joint task, at plan pace.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Yields
    ------
    Finding
        A note for each crew lane that waits long.
    """
    crew, runs = set(briefed.plan.crew_lane_ids()), briefed.record.runs
    free = dict.fromkeys(crew, 0.0)
    for task_id in briefed.projection.sequence:
        slot, lanes = briefed.projection.slots[task_id], runs[task_id].lanes
        for lane in lanes:
            if lane not in crew:
                continue
            wait = slot.start_pet_min - free[lane]
            if len(lanes) > 1 and wait >= LONG_WAIT_MIN and task_id in briefed.places:
                with_whom = ", ".join(other for other in lanes if other != lane)
                yield found(
                    "long-wait", "note", briefed.place(task_id, "start"), named(runs[task_id].task),
                    f"{lane} to wait less than {length(LONG_WAIT_MIN)} for {with_whom}",
                    f"{length(wait)} from {pet(free[lane])}, at plan pace",
                    f"Brief what {lane} does meanwhile, or give it a get-ahead.",
                )
            free[lane] = max(free[lane], slot.finish_pet_min)
