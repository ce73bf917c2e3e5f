"""`follow` computes one `SortieState` from a plan, its events and an instant. Every number that is shown comes from it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Literal

import numpy as np

from dashboard.core.base.caution import CAUTION
from dashboard.core.base.findings import Unread, one_per_event
from dashboard.core.deferral.advice_model import CALL_IN_HAND, Advice
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import DRAWS, Expected, expect
from dashboard.core.schedule.pace import learn_pace
from dashboard.core.schedule.plan_pace import project, write_latest_starts
from dashboard.core.state.alerts import alerts_of
from dashboard.core.state.computed import Computed
from dashboard.core.state.end_state import end_state, not_known
from dashboard.core.state.lane_states import lane_state
from dashboard.core.state.model import (
    Basis,
    CheckState,
    EndState,
    SortieState,
)
from dashboard.core.state.plan_pace_figures import limit_of, runs_by_lane, standings_of
from dashboard.core.state.suit_states import suit_states
from dashboard.core.state.task_states import task_state
from dashboard.core.state.worksite_states import worksite_states
from dashboard.core.suits.budget import every_budget
from dashboard.core.suits.place import Places
from dashboard.core.suits.readings import discrepancy_of, discrepancy_of_doubt
from dashboard.core.suits.turn_back import WayBack
from dashboard.core.suits.way_home import tasks_of_way_home


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
    limit = limit_of(plan, budget)
    write_latest_starts(record, projection, limit.pet_min)
    by_lane = runs_by_lane(record)
    standings = standings_of(record, by_lane)
    out = [name for name in plan.crew_lane_ids() if record.end_pet_min is None and not standings[name].finished]
    home = tasks_of_way_home(record)
    places = Places(record, projection.slots, home)
    way_back = WayBack(record, projection, places, budget, out)
    spread = expected.finish_percentiles((10, 50, 90)) if expected else {}
    worksites = worksite_states(record, projection, way_back, home, out, {t: p50 for t, (_, p50, _) in spread.items()})
    here = {name: places.at(name, max(0.0, record.pet_min)) for name in by_lane}
    turn_back = dict.fromkeys(out, way_back.turn_back())
    computed = Computed(record, projection, budget, shown, expected, limit, pace, here, turn_back, worksites)
    lanes = {
        lane.id: lane_state(computed, lane, by_lane[lane.id], standings[lane.id]) for lane in plan.lanes
    }
    tasks = {task_id: task_state(computed, record.runs[task_id], spread.get(task_id)) for task_id in record.order}
    end = end_state(computed)
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
        suits=suit_states(computed),
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
        not_known=not_known(computed, draws),
    )
    return state, expected


def _advice(plan: Plan, end: EndState, *, drawn: bool) -> Advice:
    """Whether advice is needed. The choices, and then the call, are computed on demand by `dashboard.core.deferral.advise`."""
    wanted = plan.sortie.confidence
    needed = None if end.in_by_limit is None else end.in_by_limit < wanted
    return Advice(
        needed=needed, confidence=wanted, in_by_limit=end.in_by_limit, caution=CAUTION,
        call=None if needed or not drawn else "none",
        call_why=CALL_IN_HAND if needed else "" if not drawn else "Nothing needs to be given up.",
    )


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

