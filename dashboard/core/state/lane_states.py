"""The lanes of the state."""

from __future__ import annotations

from collections.abc import Sequence

from dashboard.core.plan.model import Lane
from dashboard.core.record.lifecycle import (
    IN_WORK,
    ON_HOLD,
)
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.ahead import LaneStanding
from dashboard.core.schedule.plan_pace import Projection
from dashboard.core.state.computed import Computed
from dashboard.core.state.model import (
    LaneState,
    LaneWord,
)


def lane_state(computed: Computed, lane: Lane, runs: Sequence[TaskRun], standing: LaneStanding) -> LaneState:
    """One lane: what it does, what comes next, where it is, and how it stands against the brief.

    Parameters
    ----------
    computed : Computed
    lane : Lane
    runs : sequence of TaskRun
        Its tasks, in the order of the plan of record.
    standing : LaneStanding

    Returns
    -------
    LaneState
    """
    record, projection = computed.record, computed.projection
    in_work = [r for r in runs if r.state == IN_WORK]
    on_hold = [r for r in runs if r.state == ON_HOLD]
    rest = [r for r in runs if r.task.id in projection.slots and r.state != IN_WORK]
    current = _current(runs)
    following = next((r for r in rest if r is not current), None)
    slot = projection.slots[following.task.id] if following else None
    here, turn_back = computed.here[lane.id], computed.turn_back.get(lane.id)
    site = computed.worksites.get(here.going_to or here.worksite or "")
    read = computed.pace.read(lane.id)
    return LaneState(
        kind=lane.kind,
        suit=lane.suit,
        ahead_min=standing.ahead_min,
        ahead_frozen=standing.frozen,
        task=current.task.id if current else None,
        state=_lane_word(record, lane.id, runs, in_work, on_hold, standing),
        held=lane.id in record.held_lanes,
        hold_reason=record.held_lanes.get(lane.id),
        next=following.task.id if following else None,
        next_start_pet_min=slot.start_pet_min if slot else None,
        next_waits=slot.waits if slot else None,
        on_hold=[r.task.id for r in on_hold],
        end_pet_min=_lane_end(record, projection, runs),
        worksite=here.worksite,
        going_to=here.going_to,
        back_min=here.back_min,
        leave_by_pet_min=site.leave_by_pet_min if site and lane.kind == "crew" and not standing.finished else None,
        turn_back_pet_min=turn_back.pet_min if turn_back else None,
        turn_back_set_by=turn_back.set_by if turn_back else None,
        pace=read.factor if read.tasks else None,
        pace_p10=read.p10 if read.tasks else None,
        pace_p90=read.p90 if read.tasks else None,
        pace_told=read.told,
        pace_tasks=read.tasks,
        order=[r.task.id for r in rest],
    )


def _current(runs: Sequence[TaskRun]) -> TaskRun | None:
    """The task in work that was started last, else the last task on hold, else None."""
    in_work = sorted((r for r in runs if r.state == IN_WORK), key=lambda r: r.working_since_pet_min or 0.0)
    on_hold = [r for r in runs if r.state == ON_HOLD]
    return in_work[-1] if in_work else on_hold[-1] if on_hold else None


def _lane_word(
    record: Record, lane: str, runs: Sequence[TaskRun], in_work: Sequence[TaskRun], on_hold: Sequence[TaskRun],
    standing: LaneStanding,
) -> LaneWord:
    if in_work:
        return "in work"
    if lane in record.held_lanes or on_hold:
        return "on hold"
    begun = max((r.start_pet_min for r in runs if r.start_pet_min is not None), default=None)
    for run in runs:
        until = record.close_out_until(run)
        if until is not None and until > record.pet_min and (begun is None or begun < (run.finish_pet_min or 0.0)):
            return "close-out"
    return "finished" if standing.finished else "waiting"


def _lane_end(record: Record, projection: Projection, runs: Sequence[TaskRun]) -> float | None:
    """The latest finish of the lane, PET minutes. Close-outs of tasks that were broken off are included."""
    ends = [projection.slots[r.task.id].finish_pet_min for r in runs if r.task.id in projection.slots]
    ends += [over for r in runs if (over := record.over_at(r)) is not None]
    return max(ends, default=None)
