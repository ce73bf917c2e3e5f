"""Ahead or behind of each lane: the earned-schedule definition (`earned.py`) applied to a record.

- Work that counts is briefed and not deferred. Inserted and added tasks count nothing: they cost time.
- A trimmed task counts its new length from its briefed start. An extended task counts its briefed length. It earns that
  length while it is worked, and nothing in the minutes that the extend added: these cost time like inserted work. The lane
  falls behind by them while they are worked, not at the moment of the decision.
- A briefed gap is credited only once the work briefed before it is over. While that work is begun and not over, the lane
  stands at the earlier end of the gap, so the figure never jumps without an event. The gap counts as a whole from the start
  of the next counted task. Work that is not briefed (inserted or added) does not keep a gap from being credited.
- A close-out belongs to its lane. Until it is over the lane is not finished, and the end of the lane counts it.
- Once the last task of a lane is over, the figure freezes at briefed end less actual end.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from dashboard.core.record.lifecycle import BROKEN_OFF, DEFERRED, DONE, IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.earned import WorkCurve, earned_part


@dataclass(frozen=True)
class LaneStanding:
    """How a lane stands against the brief.

    Parameters
    ----------
    ahead_min : float or None
        Minutes ahead; negative is behind. None before PET zero, or when the lane has no briefed work.
    frozen : bool
        Whether `ahead_min` no longer changes, since the lane is finished.
    finished : bool
        Whether all work of the lane is over, its last close-out included.
    """

    ahead_min: float | None
    frozen: bool
    finished: bool


def lane_standing(record: Record, lane: str, runs: list[TaskRun]) -> LaneStanding:
    """How far ahead of the brief a lane is.

    Parameters
    ----------
    record : Record
    lane : str
    runs : list of TaskRun
        The tasks whose lanes include `lane`.

    Returns
    -------
    LaneStanding
    """
    in_plan = [run for run in runs if record.in_plan(run.task.id)]
    counted = [run for run in in_plan if _counts(run)]
    open_from = min((run.task.start or 0.0 for run in counted if not run.is_over), default=math.inf)
    curve = WorkCurve(((run.task.start or 0.0, run.counted_min) for run in counted), open_from)
    open_runs = [
        run for run in in_plan
        if run.state in (IN_WORK, ON_HOLD) or (run.state == NOT_STARTED and not run.task.get_ahead)
    ]
    over = [
        at for run in in_plan if run.state in (DONE, BROKEN_OFF) and (at := record.over_at(run)) is not None
    ]
    closed_out = record.end_pet_min is not None or max(over, default=0.0) <= record.pet_min
    finished = not open_runs and bool(over) and closed_out
    briefed_end = curve.end_pet_min
    if record.pet_min < 0 or briefed_end is None:
        return LaneStanding(None, frozen=False, finished=finished)
    if finished:
        return LaneStanding(briefed_end - max(over), frozen=True, finished=True)
    earned = sum(_earned(run, record.pet_min) for run in counted)
    begun = any(run.state in (IN_WORK, ON_HOLD) for run in counted)
    earned_pet = curve.pet_of(earned, record.pet_min, begun=begun)
    return LaneStanding(None if earned_pet is None else earned_pet - record.pet_min, frozen=False, finished=finished)


def _counts(run: TaskRun) -> bool:
    """Whether a task is briefed work that was not deferred."""
    return run.origin == "briefed" and run.task.start is not None and run.state != DEFERRED


def _earned(run: TaskRun, pet_min: float) -> float:
    """Minutes of planned work that a task has earned so far."""
    if run.state in (DONE, BROKEN_OFF):
        return run.counted_min
    if run.state in (IN_WORK, ON_HOLD):
        return earned_part(run.counted_min, run.worked_min(pet_min), run.estimate_min(pet_min))
    return 0.0
