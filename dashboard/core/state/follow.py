"""`follow` computes one `SortieState` from a plan, its events and an instant. Every number that is shown comes from it."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Literal, NamedTuple

import numpy as np

from dashboard.core.base.caution import CAUTION
from dashboard.core.base.findings import Unread, one_per_event
from dashboard.core.deferral.advice_model import CALL_IN_HAND, Advice
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Consumable, Lane, Plan, Suit
from dashboard.core.record.fold import reconcile
from dashboard.core.record.lifecycle import (
    BROKEN_OFF,
    DEFERRED,
    DONE,
    IN_WORK,
    NOT_STARTED,
    ON_HOLD,
    TaskWord,
)
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.ahead import LaneStanding, lane_standing
from dashboard.core.schedule.because import because
from dashboard.core.schedule.expected import DRAWS, SEED, Expected, expect
from dashboard.core.schedule.pace import Pace, learn_pace
from dashboard.core.schedule.plan_pace import Projection, project, write_latest_starts
from dashboard.core.state.alerts import alerts_of
from dashboard.core.state.model import (
    Basis,
    CheckState,
    ConsumableState,
    DoubtedReading,
    Driver,
    EndState,
    LaneState,
    LaneWord,
    LimitState,
    SortieState,
    SuitState,
    TaskState,
    WorksiteState,
)
from dashboard.core.suits.budget import Budget, Doubt, every_budget, limit_draws
from dashboard.core.suits.place import Place, Places
from dashboard.core.suits.readings import discrepancy_of, discrepancy_of_doubt
from dashboard.core.suits.turn_back import TurnBack, WayBack
from dashboard.core.suits.way_home import tasks_of_way_home

DRIVERS_SHOWN = 8


def follow(
    plan: Plan,
    events: Iterable[Event],
    now: datetime,
    *,
    unread: Sequence[Unread] = (),
    mode: Literal["live", "replay", "paused"] = "live",
    draws: int = DRAWS,
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
        Lines that the reader of the log could not understand. They are copied into the state.
    mode : str
        How `now` advances. It is copied into the state.
    draws : int
        Number of draws of the expected projection. With 0 it is left out, and `not_known` says so.

    Returns
    -------
    SortieState
    """
    return state_of(reconcile(plan, events, now), now, unread=unread, mode=mode, draws=draws)


def state_of(
    record: Record,
    now: datetime,
    *,
    unread: Sequence[Unread] = (),
    mode: Literal["live", "replay", "paused"] = "live",
    draws: int = DRAWS,
) -> SortieState:
    """As `follow`, from a record that `reconcile` already made at `now`.

    Parameters
    ----------
    record
        At `now`.
    now
        Aware.
    unread
        Lines of the log that could not be understood; they are copied into the state.
    mode
        How `now` advances; it is copied into the state.
    draws
        Number of draws of the expected projection; 0 leaves it out, and `not_known` says so.

    Returns
    -------
    SortieState
    """
    return state_with_draws(record, now, unread=unread, mode=mode, draws=draws)[0]


def state_with_draws(
    record: Record,
    now: datetime,
    *,
    unread: Sequence[Unread] = (),
    mode: Literal["live", "replay", "paused"] = "live",
    draws: int = DRAWS,
) -> tuple[SortieState, Expected | None]:
    """As `state_of`, together with the draws that its percentiles were taken from.

    Parameters
    ----------
    record
        At `now`.
    now
        Aware.
    unread
        Lines of the log that could not be understood; they are copied into the state.
    mode
        How `now` advances; it is copied into the state.
    draws
        Number of draws of the expected projection; 0 leaves it out.

    Returns
    -------
    (SortieState, Expected or None)
        None when nothing was drawn: `draws` is 0, or no crew task remains.
    """
    plan = record.plan
    projection = project(record)
    pace = learn_pace(record)
    expected = expect(record, projection, draws=draws, pace=pace) if draws else None
    shown = every_budget(record, projection, float(np.percentile(expected.end, 50)) if expected else None)
    budget = {which: one for which, one in shown.items() if not one.assumed}
    limit = _limit(plan, budget)
    write_latest_starts(record, projection, limit.pet_min)
    by_lane: dict[str, list[TaskRun]] = {lane.id: [] for lane in plan.lanes}
    for task_id in record.order:
        run = record.runs[task_id]
        for name in run.lanes:
            by_lane[name].append(run)
    standings = {name: lane_standing(record, name, runs) for name, runs in by_lane.items()}
    out = [name for name in plan.crew_lane_ids() if record.end_pet_min is None and not standings[name].finished]
    home = tasks_of_way_home(record)
    places = Places(record, projection.slots, home)
    way_back = WayBack(record, projection, places, budget, out)
    spread = expected.finish_percentiles((10, 50, 90)) if expected else {}
    worksites = _worksites(record, projection, way_back, home, out, {t: p50 for t, (_, p50, _) in spread.items()})
    here = {name: places.at(name, max(0.0, record.pet_min)) for name in by_lane}
    turn_back = dict.fromkeys(out, way_back.turn_back())
    computed = _Computed(record, projection, budget, shown, expected, limit, pace, here, turn_back, worksites)
    lanes = {
        lane.id: _lane_state(computed, lane, by_lane[lane.id], standings[lane.id]) for lane in plan.lanes
    }
    tasks = {task_id: _task_state(computed, record.runs[task_id], spread.get(task_id)) for task_id in record.order}
    end = _end_state(computed)
    checks = _checks(record)
    state = SortieState(
        sortie=plan.sortie.id,
        title=plan.sortie.title,
        now=now,
        pet_min=record.pet_min,
        mode=mode,
        ended=record.end_pet_min is not None,
        lanes=lanes,
        tasks=tasks,
        end=end,
        suits=_suits(computed),
        limit=limit,
        worksites=worksites,
        advice=_advice(plan, end, drawn=draws > 0),
        alternatives={a.id: record.chosen.get(a.id, a.default) for a in plan.alternatives},
        alternatives_open=[a.id for a in plan.alternatives if a.id not in record.chosen],
        contingencies={c.id: c.id in record.inserted for c in plan.contingencies},
        checks=checks,
        alerts=alerts_of(record, tasks, end, limit, shown, worksites),
        discrepancies=one_per_event([
            *record.discrepancies,
            *(
                discrepancy_of(odd, suit, name, record.pet_zero)
                for (suit, name), one in shown.items() for odd in one.odd if not odd.slight
            ),
            *(
                discrepancy_of_doubt(one.doubt.reading, one.doubt.expected, suit, name, record.pet_zero)
                for (suit, name), one in shown.items() if one.doubt is not None
            ),
        ]),
        unread=[*unread, *record.counted.unread],
        basis=_basis(record),
        not_known=_not_known(computed, draws),
    )
    return state, expected


def briefed_end_pet_min(plan: Plan) -> float | None:
    """Latest briefed finish over the crew lanes, with the default option of each alternative and without get-aheads.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    float or None
        PET minutes; None when no task of a crew lane is briefed.
    """
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


class _Computed(NamedTuple):
    """The results of one computation of the state, from which its parts are made.

    `budget` holds the budgets that may set a limit, `shown` also those that rest on an assumed rate.
    """

    record: Record
    projection: Projection
    budget: Mapping[tuple[str, str], Budget]
    shown: Mapping[tuple[str, str], Budget]
    expected: Expected | None
    limit: LimitState
    pace: Pace
    here: Mapping[str, Place]
    turn_back: Mapping[str, TurnBack | None]
    worksites: Mapping[str, WorksiteState]


def _limit(plan: Plan, budget: Mapping[tuple[str, str], Budget]) -> LimitState:
    """The earlier of the planned limit less reserve and the first suit reserve that is reached."""
    sortie = plan.sortie
    pet, set_by = sortie.limit_less_reserve_pet_min, "planned limit less reserve" if sortie.reserve else "planned limit"
    for (suit, name), one in budget.items():
        if one.reserve_reached_pet_min < pet:
            pet, set_by = one.reserve_reached_pet_min, f"suit {suit} {name}"
    return LimitState(pet_min=pet, set_by=set_by)


def _worksites(
    record: Record, projection: Projection, way_back: WayBack, home: Collection[str], out: Collection[str],
    p50_pet_min: Mapping[str, float],
) -> dict[str, WorksiteState]:
    """The worksites that the crew is at or has work to do at, and by when they must have been left."""
    work: dict[str, list[TaskRun]] = {}
    for task_id in projection.slots:
        run = record.runs[task_id]
        place = run.task.leg or run.task.worksite
        if place is not None and task_id not in home and not run.task.get_ahead and set(out) & set(run.lanes):
            work.setdefault(place, []).append(run)
    for lane in out:
        if (here := way_back.here[lane].worksite) is not None:
            work.setdefault(here, [])
    found = {}
    for site in record.plan.worksites:
        if site.id not in work or (site.leave_by is None and site.return_min == 0):
            continue
        by_way = way_back.leave_by(site.id)
        given = [] if site.leave_by is None else [(site.leave_by, "the plan")]
        back = [] if by_way is None else [(by_way.pet_min, f"the way back, by {by_way.set_by}")]
        leave_by, set_by = min([*given, *back], default=(None, None))
        ends = {run.task.id: p50_pet_min.get(run.task.id, projection.slots[run.task.id].finish_pet_min) for run in work[site.id]}
        last = max(ends, key=lambda task_id: ends[task_id], default=None)
        found[site.id] = WorksiteState(
            return_min=site.return_min,
            leave_by_pet_min=leave_by,
            leave_by_set_by=set_by,
            leaves_pet_min=None if last is None else ends[last],
            last_task=last,
        )
    return found


def _in_by_limit(computed: _Computed) -> float | None:
    """Share of draws that end by the planned limit less reserve with every consumable above its reserve."""
    if computed.expected is None:
        return None
    end = computed.expected.end
    ok = end <= computed.record.plan.sortie.limit_less_reserve_pet_min
    suits = limit_draws(computed.budget, max(0.0, computed.record.pet_min), SEED, len(end))
    return float(ok.mean() if suits is None else (ok & (end <= suits)).mean())


def _drivers(computed: _Computed) -> list[Driver]:
    if computed.expected is None:
        return []
    crew = set(computed.record.plan.crew_lane_ids())
    lanes = {task_id: run.lanes for task_id, run in computed.record.runs.items()}
    return [
        Driver(task=d.task, sets_end=d.sets_end, spread_share=d.spread_share)
        for d in computed.expected.drivers(computed.projection, crew, lanes)[:DRIVERS_SHOWN]
    ]


def _advice(plan: Plan, end: EndState, *, drawn: bool) -> Advice:
    """Whether advice is needed. The choices, and then the call, are computed on demand by `dashboard.core.deferral.advise`."""
    wanted = plan.sortie.confidence
    needed = None if end.in_by_limit is None else end.in_by_limit < wanted
    return Advice(
        needed=needed, confidence=wanted, in_by_limit=end.in_by_limit, caution=CAUTION,
        call=None if needed or not drawn else "none",
        call_why=CALL_IN_HAND if needed else "" if not drawn else "Nothing needs to be given up.",
    )


def _not_known(computed: _Computed, draws: int) -> dict[str, str]:
    """Why a field holds no number, in words."""
    said = {"advice.choices": "the choices are made on demand: ask for advice"}
    if computed.expected is None:
        why = "nothing of the crew remains" if draws else "not drawn: only the plan-pace projection was asked for"
        for name in ("end.p10_pet_min", "end.p50_pet_min", "end.p90_pet_min", "end.in_by_limit"):
            said[name] = why
    if not computed.shown:
        said["suits"] = "no crew lane wears a suit of the plan, or no crew task is in the plan of record"
    said.update(_no_reserve_time(computed))
    for lane, count in computed.pace.finished.items():
        if not count:
            said[f"lanes.{lane}.pace"] = "no finished task tells of it"
    return said


def _no_reserve_time(computed: _Computed) -> dict[str, str]:
    """For each consumable whose reserve is never projected to be reached: why, in words."""
    worn = {lane.suit for lane in computed.record.plan.lanes}
    said = {}
    for suit in computed.record.plan.suits:
        for name in suit.consumables():
            one = computed.shown.get((suit.id, name))
            if one is None:
                why = "no crew task is in the plan of record" if suit.id in worn else "nobody wears this suit"
            elif not math.isfinite(one.reserve_reached_pet_min):
                why = "never reached: no use is modelled"
            else:
                continue
            said[f"suits.{suit.id}.consumables.{name}.reserve_reached_pet_min"] = why
    return said


def _end_state(computed: _Computed) -> EndState:
    record, chain, end = computed.record, computed.projection.chain, computed.projection.end_pet_min
    p10, p50, p90 = (
        np.percentile(computed.expected.end, (10, 50, 90)).tolist() if computed.expected else (None, None, None)
    )
    closed = record.end_pet_min
    is_in = end if end is not None else closed
    return EndState(
        briefed_pet_min=briefed_end_pet_min(record.plan),
        plan_pace_pet_min=end,
        actual_pet_min=None if closed is None else is_in,
        closed_pet_min=closed,
        margin_min=None if is_in is None else computed.limit.pet_min - is_in,
        p10_pet_min=p10,
        p50_pet_min=p50,
        p90_pet_min=p90,
        in_by_limit=_in_by_limit(computed),
        drivers=_drivers(computed),
        because=because(record, computed.projection, computed.expected, briefed_end_pet_min(record.plan)),
        chain=chain,
        chain_starts_with=computed.projection.slots[chain[0]].waits if chain else None,
    )


def _task_state(computed: _Computed, run: TaskRun, spread: Sequence[float] | None) -> TaskState:
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
        close_out_until_pet_min=record.close_out_until(run),
        trimmed=run.length_set and not run.extended,
        extended=run.extended,
        why_out=out.why if out is not None else None,
        events=list(run.events),
    )


def _lane_state(computed: _Computed, lane: Lane, runs: Sequence[TaskRun], standing: LaneStanding) -> LaneState:
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


def _suits(computed: _Computed) -> dict[str, SuitState]:
    return {suit.id: _suit_state(computed, suit) for suit in computed.record.plan.suits}


def _suit_state(computed: _Computed, suit: Suit) -> SuitState:
    limiting = min(
        (name for name in suit.consumables() if (suit.id, name) in computed.budget),
        key=lambda name: computed.budget[suit.id, name].reserve_reached_pet_min,
        default=None,
    )
    first = computed.budget[suit.id, limiting] if limiting else None
    return SuitState(
        lanes=[lane.id for lane in computed.record.plan.lanes if lane.suit == suit.id],
        limiting=limiting,
        limit_pet_min=finite(first.reserve_reached_pet_min) if first else None,
        margin_min=finite(first.margin_min) if first else None,
        margin_plan_pace_min=finite(first.margin_plan_pace_min) if first else None,
        consumables={
            name: _consumable_state(computed, suit.id, name, given) for name, given in suit.consumables().items()
        },
    )


def _consumable_state(computed: _Computed, suit: str, name: str, given: Consumable) -> ConsumableState:
    readings = computed.record.readings.get((suit, name))
    one = computed.shown.get((suit, name))
    read = one.reading if one else readings[-1] if readings else None
    late = None
    if one is not None and computed.expected is not None:
        p50, p90 = np.percentile(computed.expected.end, (50, 90))
        late = one.need + one.rate_per_h * float(p90 - p50) / 60.0
    return ConsumableState(
        left=one.left if one else read.value if read else None,
        reading=read.value if read else None,
        reading_pet_min=read.pet_min if read else None,
        doubted=_doubted(one.doubt) if one and one.doubt else None,
        loaded=given.loaded,
        reserve=given.reserve,
        need=one.need if one else None,
        need_p90=max(0.0, late) if late is not None else None,
        rate_per_h=one.rate_per_h if one else None,
        factor=one.factor if one else None,
        reserve_reached_pet_min=finite(one.reserve_reached_pet_min) if one else None,
        margin_min=finite(one.margin_min) if one else None,
        margin_plan_pace_min=finite(one.margin_plan_pace_min) if one else None,
        assumed=one.assumed if one else False,
        stale=one.stale if one else False,
        flags=one.flags if one else [],
    )


def _doubted(doubt: Doubt) -> DoubtedReading:
    return DoubtedReading(value=doubt.reading.value, pet_min=doubt.reading.pet_min, expected=doubt.expected)


def finite(value: float) -> float | None:
    """A value for JSON, which has no infinity.

    Parameters
    ----------
    value
        Infinite for a time that is never reached.

    Returns
    -------
    float or None
        None when the value is infinite or not a number.
    """
    return value if math.isfinite(value) else None


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
    events = record.counted.events
    last = events[-1] if events else None
    decisions = sum(event.is_decision for event in events)
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
        pet_zero_doubt=record.pet_zero_doubt,
    )


__all__ = ["briefed_end_pet_min", "follow", "state_of", "state_with_draws"]
