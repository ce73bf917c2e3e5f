"""Makes the debrief: tasks as run and as briefed, a ledger per lane, figures at earlier instants, and the carry-over.

`debrief(plan, events, now)` is pure. Every figure comes from `follow`, or from the record and projection that `follow` uses.
The figures of an earlier instant are computed from the events that had been received by then.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from typing import NamedTuple

from dashboard.core.base.caution import CAUTION
from dashboard.core.base.findings import Unread
from dashboard.core.base.times import minutes_between, plus_minutes
from dashboard.core.debrief.calls import calls_made
from dashboard.core.debrief.carry_over import carry_over, left_open
from dashboard.core.debrief.facts import (
    Debrief,
    DecisionFact,
    EndFact,
    LaneDebrief,
    ProjectionPoint,
    SuitUse,
    TaskRow,
)
from dashboard.core.debrief.in_short import (
    inserted_contingencies,
    largest_causes,
    remarks_by_task,
    typed_afterwards,
)
from dashboard.core.debrief.lane_time import (
    LaneTime,
    briefed_segments,
    hold_claims,
    lane_times,
    total_min,
)
from dashboard.core.debrief.ledger import Ledger, ledger_lines
from dashboard.core.events.decision import Decision
from dashboard.core.events.event import Event
from dashboard.core.plan.briefed import briefed_tasks
from dashboard.core.plan.model import Lane, Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.record.lifecycle import BROKEN_OFF, DONE
from dashboard.core.record.record import Record
from dashboard.core.record.take_back import came_with
from dashboard.core.schedule.expected import DRAWS
from dashboard.core.schedule.plan_pace import Projection, project
from dashboard.core.state.follow import follow
from dashboard.core.state.history import known_from
from dashboard.core.state.log_in_words import event_text
from dashboard.core.state.model import SortieState, TaskState
from dashboard.core.suits.budget import rate_of, use_between, watts

EVERY_MIN = 15.0
MOST_POINTS = 200

Progress = Callable[[str, int, int], None]


def _silent(what: str, done: int, of: int) -> None:
    """Report no progress."""


def debrief(
    plan: Plan,
    events: Iterable[Event],
    now: datetime,
    *,
    unread: Sequence[Unread] = (),
    draws: int = DRAWS,
    rehearsal: str = "",
    setting: str = "",
    progress: Progress = _silent,
) -> Debrief:
    """The debrief at `now`. Before the sortie has ended it covers the part known so far.

    Parameters
    ----------
    plan : Plan
        As briefed.
    events : iterable of event models
        In any order. Those after `now` do not count.
    now : datetime
        Aware.
    unread : sequence of Unread
        Lines that the reader of the log could not understand.
    draws : int
        Draws of the expected projections; 0 leaves P10, P50, P90 and the probability out.
    rehearsal : str
        In words, the recorded run that the events rehearse; empty when they are no rehearsal.
    setting : str
        Setting of the recorded run; empty when it is not said.
    progress : callable
        Called before each state is computed, with what it is for, its number, and how many there are.

    Returns
    -------
    Debrief
    """
    given = list(events)
    typed = typed_afterwards(given)
    known = _Known(plan, [_as_it_happened(event) for event in given] if typed else given, draws)
    state = follow(plan, known.events, now, unread=unread, draws=0)
    record = reconcile(plan, known.events, now)
    lanes = _lanes(record, state)
    return Debrief(
        sortie=state.sortie,
        title=state.title,
        rehearsal=rehearsal,
        setting=setting,
        typed_afterwards=typed,
        now=now,
        pet_min=state.pet_min,
        pet_zero=state.basis.pet_zero,
        so_far=not state.ended,
        events=state.basis.events,
        basis=state.basis.plan,
        end=_end(state),
        limit=state.limit,
        lanes=lanes,
        causes=largest_causes(lanes),
        contingencies=inserted_contingencies(record),
        calls=calls_made(known.record_at, record, _until(state), draws=draws, progress=progress),
        decisions=_decisions(known, record, progress),
        suits=_suits(plan, state),
        projections=_projections(known, state, progress),
        discrepancies=state.discrepancies,
        unread=state.unread,
        carry_over=carry_over(record),
        left_open=left_open(record),
        caution=CAUTION,
    )


def _as_it_happened(event: Event) -> Event:
    """The event as if the room had received it when it happened."""
    return event.model_copy(update={"received": None})


def lane_debriefs(plan: Plan, events: Iterable[Event], now: datetime) -> dict[str, LaneDebrief]:
    """Only the lanes of a debrief.

    Parameters
    ----------
    plan : Plan
        As briefed.
    events : iterable of event models
        In any order.
    now : datetime
        Aware.

    Returns
    -------
    dict of str to LaneDebrief
        By lane.
    """
    known = list(events)
    return _lanes(reconcile(plan, known, now), follow(plan, known, now, draws=0))


class _Known(NamedTuple):
    """Plan and events, from which the state at earlier instants can be computed as it was known then."""

    plan: Plan
    events: list[Event]
    draws: int

    def at(self, instant: datetime) -> SortieState:
        """The state at an instant, from the events received by then."""
        had = [event for event in self.events if known_from(event) <= instant]
        return follow(self.plan, had, instant, draws=self.draws)

    def record_at(self, instant: datetime) -> Record:
        """The record at an instant, from the events received by then."""
        return reconcile(self.plan, [event for event in self.events if known_from(event) <= instant], instant)

    def around(self, decision: Event) -> tuple[SortieState, float | None]:
        """The state at the instant of a decision, without the decision; and the projected end (PET minutes) with it."""
        before = self._before(decision)
        state = follow(self.plan, before, decision.at, draws=self.draws)
        with_it = follow(self.plan, [*before, decision], decision.at, draws=0)
        return state, with_it.end.plan_pace_pet_min

    def _before(self, decision: Event) -> list[Event]:
        """The events known at the instant of a decision that are not logged after it.

        An event counts if its `received` is earlier than the decision. Otherwise it counts only if it stands before the
        decision in the log, because events logged in the same minute may follow from the decision.
        """
        own = next(_place(n, event) for n, event in enumerate(self.events) if event.id == decision.id)
        return [
            event for n, event in enumerate(self.events)
            if known_from(event) <= decision.at and event.id != decision.id
            and (_place(n, event) < own or (event.received is not None and event.received < decision.at))
        ]


def _place(number: int, event: Event) -> tuple[int, int]:
    """Sort key of an event's place in the log: its `seq`, then the order in which the events were given."""
    return (event.seq if event.seq is not None else 0, number)


def _end(state: SortieState) -> EndFact:
    briefed, end = state.end.briefed_pet_min, state.end.plan_pace_pet_min
    return EndFact(
        briefed_pet_min=briefed,
        pet_min=end,
        difference_min=None if briefed is None or end is None else end - briefed,
        over_pet_min=state.end.closed_pet_min,
    )


# Lanes ------------------------------------------------------------------------------------------


def _lanes(record: Record, state: SortieState) -> dict[str, LaneDebrief]:
    projection = project(record)
    times = lane_times(record, projection)
    return {lane.id: _lane(record, projection, state, lane, times) for lane in record.plan.lanes}


def _lane(
    record: Record, projection: Projection, state: SortieState, lane: Lane, times: dict[str, LaneTime]
) -> LaneDebrief:
    briefed = briefed_segments(record.plan, lane.id)
    end = times[lane.id].end_pet_min
    briefed_end = briefed[-1].to_pet_min if briefed else None
    difference = None if end is None or briefed_end is None else end - briefed_end
    known = {task.id for task in briefed_tasks(record.plan, lane.id)}
    remarks = remarks_by_task(record)
    rows = [
        _row(record, projection, task_id, state.tasks[task_id], remarks.get(task_id, []))
        for task_id in record.order
        if lane.id in state.tasks[task_id].lanes or task_id in known
    ]
    rows.sort(key=lambda row: next(
        (pet for pet in (row.start_pet_min, row.finish_pet_min, row.briefed_start_pet_min) if pet is not None), float("inf")
    ))
    return LaneDebrief(
        kind=lane.kind,
        briefed_end_pet_min=briefed_end,
        end_pet_min=end,
        difference_min=difference,
        tasks=rows,
        segments=times[lane.id].segments,
        briefed=briefed,
        ledger=[] if difference is None else ledger_lines(Ledger(record, projection, lane.id, briefed, times)),
    )


def _row(record: Record, projection: Projection, task_id: str, task: TaskState, remarks: list[str]) -> TaskRow:
    run = record.runs[task_id]
    over = task.state in (DONE, BROKEN_OFF)
    finish = task.finish_pet_min if over else None
    return TaskRow(
        task=task_id,
        title=task.title,
        state=task.state,
        in_plan=task.in_plan,
        why_out=task.why_out,
        origin=task.origin,
        get_ahead=task.get_ahead,
        lanes=task.lanes,
        briefed_start_pet_min=task.briefed_start_pet_min,
        briefed_finish_pet_min=task.briefed_finish_pet_min,
        start_pet_min=task.start_pet_min,
        finish_pet_min=finish,
        start_late_min=_less(task.start_pet_min, task.briefed_start_pet_min),
        finish_late_min=_less(finish, task.briefed_finish_pet_min),
        briefed_min=run.task.likely_min,
        planned_min=task.planned_min,
        worked_min=task.worked_min,
        longer_min=_less(task.worked_min, run.task.likely_min) if over else None,
        held_min=total_min(list(hold_claims(record, projection, run))),
        remarks=remarks,
    )


def _less(actual: float | None, briefed: float | None) -> float | None:
    return None if actual is None or briefed is None else actual - briefed


# What the room knew -----------------------------------------------------------------------------


def _decisions(known: _Known, record: Record, progress: Progress) -> list[DecisionFact]:
    taken = [event for event in record.counted.events if event.is_decision]
    titles = {task_id: run.task.title for task_id, run in record.runs.items()}
    found = []
    for place, event in enumerate(taken, start=1):
        progress("decisions", place, len(taken))
        state, end_with_it = known.around(event)
        least = _least_suit(state)
        along = came_with(event, record.counted) if isinstance(event, Decision) else []
        found.append(
            DecisionFact(
                event=event.id,
                kind=event.kind,
                at=event.at,
                pet_min=minutes_between(record.pet_zero, event.at),
                by=event.by,
                text=event_text(event, titles, along),
                end_pet_min=state.end.plan_pace_pet_min,
                p10_pet_min=state.end.p10_pet_min,
                p50_pet_min=state.end.p50_pet_min,
                p90_pet_min=state.end.p90_pet_min,
                in_by_limit=state.end.in_by_limit,
                margin_min=state.end.margin_min,
                limit=state.limit,
                ahead_min=_ahead(state),
                least_suit=least[1] if least else None,
                least_suit_margin_min=least[0] if least else None,
                end_after_pet_min=end_with_it,
                chosen=event.chosen if isinstance(event, Decision) else None,
                **_entered_late(event),
            )
        )
    return found


def _entered_late(event: Event) -> dict[str, str]:
    """The figures that were recorded with a decision that was entered late, in words."""
    figures = event.figures if isinstance(event, Decision) else None
    then = None if figures is None else figures.of_its_own_time
    return {} if figures is None or then is None else {"entered_on": figures.in_words(), "shown_then": then.in_words()}


def _ahead(state: SortieState) -> dict[str, float | None]:
    return {name: lane.ahead_min for name, lane in state.lanes.items() if lane.kind == "crew"}


def _least_suit(state: SortieState) -> tuple[float, str] | None:
    margins = [
        (suit.margin_min, f"suit {name} {suit.limiting}")
        for name, suit in state.suits.items() if suit.margin_min is not None
    ]
    return min(margins, default=None)


def _until(newest: SortieState) -> float:
    """PET at which the crew was in, or now."""
    if newest.ended and newest.end.plan_pace_pet_min is not None:
        return min(newest.pet_min, newest.end.plan_pace_pet_min)
    return newest.pet_min


def _projections(known: _Known, newest: SortieState, progress: Progress) -> list[ProjectionPoint]:
    """The figures every quarter of an hour from PET zero until the crew was in, or until now."""
    until = _until(newest)
    if until < 0:
        return []
    count = min(int(until // EVERY_MIN) + 1, MOST_POINTS)
    found = []
    for place in range(count):
        progress("projections", place + 1, count)
        pet_min = EVERY_MIN * place
        state = known.at(plus_minutes(newest.basis.pet_zero, pet_min))
        found.append(
            ProjectionPoint(
                pet_min=pet_min,
                plan_pace_pet_min=state.end.plan_pace_pet_min,
                p10_pet_min=state.end.p10_pet_min,
                p50_pet_min=state.end.p50_pet_min,
                p90_pet_min=state.end.p90_pet_min,
                in_by_limit=state.end.in_by_limit,
                limit_pet_min=state.limit.pet_min,
                ahead_min=_ahead(state),
            )
        )
    return found


# Suits ------------------------------------------------------------------------------------------


def _suits(plan: Plan, state: SortieState) -> list[SuitUse]:
    found = []
    for suit in plan.suits:
        lanes = [lane.id for lane in plan.lanes if lane.suit == suit.id]
        for name, given in suit.consumables().items():
            one = state.suits[suit.id].consumables[name]
            found.append(
                SuitUse(
                    suit=suit.id,
                    consumable=name,
                    lanes=lanes,
                    loaded=given.loaded,
                    reserve=given.reserve,
                    planned_use=_planned_use(plan, lanes, suit.id, name),
                    used=_less(given.loaded, one.left),
                    left=one.left,
                    above_reserve=_less(one.left, given.reserve),
                    last_reading=one.reading,
                    last_reading_pet_min=one.reading_pet_min,
                    factor=one.factor,
                    flags=one.flags,
                )
            )
    return found


def _planned_use(plan: Plan, lanes: Sequence[str], suit: str, name: str) -> float | None:
    """Modelled use of the briefed work of the lane that wears the suit, with waiting in its gaps.

    None when the lane has no briefed work.
    """
    briefed = briefed_segments(plan, lanes[0]) if lanes else []
    if not briefed:
        return None
    tasks = {task.id: task for task in plan.tasks}
    loads = [(s.from_pet_min, s.to_pet_min, watts(tasks[s.task] if s.task else None)) for s in briefed]
    given = next(one for one in plan.suits if one.id == suit).consumables()[name]
    return use_between(loads, rate_of(name, given), 0.0, briefed[-1].to_pet_min)
