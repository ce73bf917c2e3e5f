"""The tasks of the state."""

from __future__ import annotations

from collections.abc import Sequence

from dashboard.core.record.lifecycle import (
    BROKEN_OFF,
    DEFERRED,
    DONE,
    IN_WORK,
    NOT_STARTED,
    ON_HOLD,
    TaskWord,
)
from dashboard.core.record.record import TaskRun
from dashboard.core.state.computed import Computed
from dashboard.core.state.model import (
    TaskState,
)


def task_state(computed: Computed, run: TaskRun, spread: Sequence[float] | None) -> TaskState:
    """One task: as briefed, as it stands, and as projected.

    Parameters
    ----------
    computed : Computed
    run : TaskRun
    spread : sequence of float or None
        P10, P50 and P90 of its finish, PET minutes; None: not drawn.

    Returns
    -------
    TaskState
    """
    record, projection = computed.record, computed.projection
    task, slot = run.task, projection.slots.get(run.task.id)
    out = record.out_because.get(task.id)
    over = run.state in (DONE, BROKEN_OFF)
    briefed_finish = None if task.start is None else task.start + task.likely_min
    planned_finish = None if task.start is None else task.start + run.counted_min
    start = run.start_pet_min if run.state != NOT_STARTED else None
    finish = run.finish_pet_min if over else None
    expected_finish = finish if over else slot.finish_pet_min if slot else None
    state: TaskWord = DEFERRED if out is not None and out.deferred else run.state
    projected_start = start if run.state == IN_WORK else slot.start_pet_min if slot else start
    return TaskState(
        title=task.title,
        state=state,
        in_plan=out is None,
        origin=run.origin,
        lanes=list(run.lanes),
        start_pet_min=start,
        finish_pet_min=finish,
        worked_min=None if over and run.start_pet_min is None else run.worked_min(record.pet_min),
        planned_min=run.planned_min,
        remaining_min=None if over or out is not None else run.remaining_min(record.pet_min),
        estimate_min=None if over else run.estimate_min(record.pet_min),
        briefed_start_pet_min=task.start,
        briefed_finish_pet_min=briefed_finish,
        projected_start_pet_min=projected_start,
        projected_finish_pet_min=expected_finish,
        p10_pet_min=spread[0] if spread else None,
        p90_pet_min=spread[2] if spread else None,
        float_min=slot.float_min if slot else None,
        latest_start_pet_min=slot.latest_start_pet_min if slot else None,
        ahead_min=None if planned_finish is None or expected_finish is None else planned_finish - expected_finish,
        waits=slot.waits if slot and run.state != IN_WORK else None,
        window_missed=slot.window_missed if slot else [],
        sets_end=task.id in projection.chain,
        get_ahead=task.get_ahead,
        required=task.required,
        priority=task.priority,
        worksite=task.worksite,
        hold_reason=run.hold_reason,
        hold_since_pet_min=run.held_since_pet_min if run.state == ON_HOLD else None,
        close_out_until_pet_min=record.close_out_until(run),
        trimmed=run.length_set and not run.extended,
        extended=run.extended,
        why_out=out.why if out is not None else None,
        events=list(run.events),
    )
