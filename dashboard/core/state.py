"""`follow`: the only way to numbers. Plan and events at an instant become one `SortieState`."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any, Literal

from dashboard.core.ahead import LaneStanding, lane_standing
from dashboard.core.alerts import alerts_of
from dashboard.core.lifecycle import BROKEN_OFF, DEFERRED, DONE, IN_WORK, NOT_STARTED, ON_HOLD, TaskWord
from dashboard.core.plan import Lane, Plan
from dashboard.core.projection import Projection, project
from dashboard.core.record import Record, TaskRun, reconcile
from dashboard.core.sortie_state import (
    Advice,
    Basis,
    CheckState,
    ConsumableState,
    EndState,
    LaneState,
    LaneWord,
    LimitState,
    SortieState,
    SuitState,
    TaskState,
    Unread,
)

CAUTION = (
    "Advisory only. Flight rules, suit telemetry and the responsible flight controllers and physicians decide. "
    "Not certified for flight use."
)
NOT_KNOWN = {
    "end.p10_pet_min": "not known yet: the spread of the end is not computed",
    "end.p50_pet_min": "not known yet: the spread of the end is not computed",
    "end.p90_pet_min": "not known yet: the spread of the end is not computed",
    "end.in_by_limit": "not known yet: the probability of being in by the limit is not computed",
    "tasks.p10_pet_min": "not known yet: the spread of finishes is not computed",
    "tasks.p90_pet_min": "not known yet: the spread of finishes is not computed",
    "lanes.turn_back_pet_min": "not known yet: turn-back times are not computed",
    "suits.limiting": "not known yet: the suit budget is not computed; readings are shown as logged",
    "suits.limit_pet_min": "not known yet: the suit budget is not computed",
    "suits.margin_min": "not known yet: the suit budget is not computed",
    "suits.consumables.need": "not known yet: the suit budget is not computed",
    "suits.consumables.reserve_reached_pet_min": "not known yet: the suit budget is not computed",
    "advice": "not known yet: deferral advice is not computed",
}


def follow(
    plan: Plan,
    events: Iterable[Any],
    now: datetime,
    *,
    unread: Sequence[Unread] = (),
    mode: Literal["live", "replay", "paused"] = "live",
) -> SortieState:
    """The state of the sortie at `now`.

    Parameters
    ----------
    plan : Plan
        As briefed.
    events : iterable of event models
        In any order. Those after `now` do not count yet.
    now : datetime
        Aware.
    unread : sequence of Unread
        Lines that the reader of the log could not understand; carried along so that they are shown.
    mode : str
        How `now` runs; carried along.

    Returns
    -------
    SortieState
    """
    record = reconcile(plan, events, now)
    limit = LimitState(
        pet_min=plan.sortie.limit_less_reserve_pet_min,
        set_by="planned limit less reserve" if plan.sortie.reserve else "planned limit",
    )
    projection = project(record, limit.pet_min)
    by_lane: dict[str, list[TaskRun]] = {lane.id: [] for lane in plan.lanes}
    for task_id in record.order:
        run = record.runs[task_id]
        for name in run.lanes:
            by_lane[name].append(run)
    standings = {name: lane_standing(record, name, runs) for name, runs in by_lane.items()}
    lanes = {
        lane.id: _lane_state(record, projection, lane, by_lane[lane.id], standings[lane.id]) for lane in plan.lanes
    }
    tasks = {task_id: _task_state(record, projection, record.runs[task_id]) for task_id in record.order}
    end = _end_state(record, projection, limit)
    checks = _checks(record)
    return SortieState(
        sortie=plan.sortie.id,
        title=plan.sortie.title,
        now=now,
        pet_min=record.pet_min,
        mode=mode,
        ended=record.end_pet_min is not None,
        lanes=lanes,
        tasks=tasks,
        end=end,
        suits=_suits(record),
        limit=limit,
        advice=Advice(needed=None, caution=CAUTION),
        alternatives={a.id: record.chosen.get(a.id, a.default) for a in plan.alternatives},
        alternatives_open=[a.id for a in plan.alternatives if a.id not in record.chosen],
        contingencies={c.id: c.id in record.inserted for c in plan.contingencies},
        checks=checks,
        alerts=alerts_of(record, tasks, end, limit),
        discrepancies=record.discrepancies,
        unread=[*unread, *record.standing.unread],
        basis=_basis(record),
        not_known=dict(NOT_KNOWN),
    )


def briefed_end_pet_min(plan: Plan) -> float | None:
    """Latest briefed finish over the crew lanes, default options taken; None when nothing of the crew is briefed."""
    crew = set(plan.crew_lane_ids())
    not_default = {
        task_id
        for a in plan.alternatives for name, task_ids in a.options.items() if name != a.default
        for task_id in task_ids
        if task_id not in a.options[a.default]
    }
    ends = [
        task.start + task.likely_min
        for task in plan.tasks
        if task.start is not None and crew & set(task.lanes) and not task.get_ahead and task.id not in not_default
    ]
    return max(ends, default=None)


def _end_state(record: Record, projection: Projection, limit: LimitState) -> EndState:
    chain = projection.chain
    end = projection.end_pet_min
    return EndState(
        briefed_pet_min=briefed_end_pet_min(record.plan),
        plan_pace_pet_min=end,
        actual_pet_min=record.end_pet_min,
        margin_min=None if end is None else limit.pet_min - end,
        p10_pet_min=None,
        p50_pet_min=None,
        p90_pet_min=None,
        in_by_limit=None,
        chain=chain,
        chain_starts_with=projection.slots[chain[0]].waits if chain else None,
    )


def _task_state(record: Record, projection: Projection, run: TaskRun) -> TaskState:
    task, slot = run.task, projection.slots.get(run.task.id)
    out = record.out_because.get(task.id)
    over = run.state in (DONE, BROKEN_OFF)
    briefed_finish = None if task.start is None else task.start + task.likely_min
    planned_finish = None if task.start is None else task.start + run.planned_min
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
        p10_pet_min=None,
        p90_pet_min=None,
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
        close_out_until_pet_min=record.close_out_until(run),
        trimmed=run.trimmed,
        why_out=out.why if out is not None else None,
        events=list(run.events),
    )


def _lane_state(
    record: Record, projection: Projection, lane: Lane, runs: Sequence[TaskRun], standing: LaneStanding
) -> LaneState:
    in_work = sorted((r for r in runs if r.state == IN_WORK), key=lambda r: r.working_since_pet_min or 0.0)
    on_hold = [r for r in runs if r.state == ON_HOLD]
    rest = [r for r in runs if r.task.id in projection.slots and r.state != IN_WORK]
    current = in_work[-1] if in_work else on_hold[-1] if on_hold else None
    following = next((r for r in rest if r is not current), None)
    slot = projection.slots[following.task.id] if following else None
    return LaneState(
        kind=lane.kind,
        suit=lane.suit,
        ahead_min=standing.ahead_min,
        ahead_frozen=standing.frozen,
        task=current.task.id if current else None,
        state=_lane_word(record, lane.id, runs, in_work, on_hold, standing),
        held=lane.id in record.held_lanes,
        next=following.task.id if following else None,
        next_start_pet_min=slot.start_pet_min if slot else None,
        next_waits=slot.waits if slot else None,
        on_hold=[r.task.id for r in on_hold],
        end_pet_min=_lane_end(projection, runs),
        worksite=(site := _worksite(runs, current)),
        return_min=_return_min(record.plan, site),
        turn_back_pet_min=None,
        order=[r.task.id for r in rest],
    )


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


def _lane_end(projection: Projection, runs: Sequence[TaskRun]) -> float | None:
    ends = [projection.slots[r.task.id].finish_pet_min for r in runs if r.task.id in projection.slots]
    ends += [r.finish_pet_min for r in runs if r.finish_pet_min is not None]
    return max(ends, default=None)


def _worksite(runs: Sequence[TaskRun], current: TaskRun | None) -> str | None:
    """Worksite of the task in hand, else of the task that was begun last; None: not known."""
    if current is not None and current.task.worksite is not None:
        return current.task.worksite
    begun = [r for r in runs if r.start_pet_min is not None and r.task.worksite is not None]
    return max(begun, key=lambda r: r.start_pet_min or 0.0).task.worksite if begun else None


def _return_min(plan: Plan, worksite: str | None) -> float | None:
    return next((w.return_min for w in plan.worksites if w.id == worksite), None)


def _suits(record: Record) -> dict[str, SuitState]:
    suits = {}
    for suit in record.plan.suits:
        consumables = {}
        for name, given in suit.consumables().items():
            readings = record.readings.get((suit.id, name))
            reading = readings[-1] if readings else None
            consumables[name] = ConsumableState(
                left=reading[1] if reading else None,
                reading_pet_min=reading[0] if reading else None,
                loaded=given.loaded,
                reserve=given.reserve,
                need=None,
                reserve_reached_pet_min=None,
            )
        suits[suit.id] = SuitState(
            lanes=[lane.id for lane in record.plan.lanes if lane.suit == suit.id],
            limiting=None,
            limit_pet_min=None,
            margin_min=None,
            consumables=consumables,
        )
    return suits


def _checks(record: Record) -> list[CheckState]:
    found = []
    for check in record.plan.checks:
        for lane in check.lanes:
            last = record.checks.get((check.id, lane))
            due = (last if last is not None else 0.0) + check.every
            running = record.end_pet_min is None
            found.append(
                CheckState(
                    check=check.id,
                    title=check.title,
                    lane=lane,
                    last_pet_min=last,
                    due_pet_min=due,
                    overdue_min=max(0.0, record.pet_min - due) if running else 0.0,
                )
            )
    return found


def _basis(record: Record) -> Basis:
    events = record.standing.events
    last = events[-1] if events else None
    decisions = record.decisions
    words = "the briefed plan" if not decisions else (
        f"the briefed plan and {decisions} decision{'s' if decisions != 1 else ''}"
    )
    return Basis(
        plan=words,
        events=len(events),
        decisions=decisions,
        last_event=last.id if last else None,
        last_event_at=last.at if last else None,
        last_reading_at=record.last_reading_at,
        pet_zero=record.pet_zero,
        pet_zero_from=record.pet_zero_from,
    )


__all__ = ["CAUTION", "briefed_end_pet_min", "follow"]
