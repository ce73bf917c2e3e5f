"""What came with a decision, and what takes it back.

A decision carries what it defers and trims. The rest (an ending taken, a task handed over, let run longer or broken off) are
events of their own, sent with it at the same instant. To take it back is to send further events; nothing is removed from the log.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from dashboard.core.base.minutes import length
from dashboard.core.events.break_off import BreakOff
from dashboard.core.events.change import Part
from dashboard.core.events.choose import Choose
from dashboard.core.events.decision import Decision
from dashboard.core.events.event import Event
from dashboard.core.events.extend import Extend
from dashboard.core.events.move import Move
from dashboard.core.record.counted import CountedEvents
from dashboard.core.record.fold import reconcile
from dashboard.core.record.lifecycle import BROKEN_OFF, DEFERRED, DONE, NOT_STARTED
from dashboard.core.record.order import sort_key
from dashboard.core.record.record import Record, TaskRun, run_of

CARRIED = ("defer", "trim")  # parts that a decision carries itself


@dataclass(frozen=True)
class ReversalStep:
    """One event that takes a part of a decision back, without id, time and sender, and the same in words."""

    event: Mapping[str, Any]
    words: str


@dataclass(frozen=True)
class Reversal:
    """The events that take a decision back, in order. `stays` says in words what no event takes back."""

    at: datetime
    steps: list[ReversalStep] = field(default_factory=list)
    stays: list[str] = field(default_factory=list)


def came_with(decision: Decision, counted: CountedEvents) -> list[Event]:
    """The events that carry out the rest of a decision: sent for the same instant, and named in what was chosen.

    An amended time does not separate an event from the others: each is taken at the time at which it was first entered.

    Parameters
    ----------
    decision
        One that counts.
    counted
        The events that count with it.

    Returns
    -------
    list of Event
        In the order of `sort_key`, as amended.
    """
    parts = {part for part in decision.change().parts() if part.kind not in CARRIED}
    if not parts:
        return []
    at = counted.came_at(decision)
    found = [e for e in counted.events_at(at) if _part_of(e) in parts]
    return sorted(found, key=sort_key)


def _part_of(event: Event) -> Part | None:
    """The part of a change that an event carries out for a decision. None: it carries out none."""
    match event:
        case BreakOff():
            return Part("break_off", event.task)
        case Choose():
            return Part("choose", event.alternative, event.option)
        case Move():
            return Part("move", event.task, event.lane)
        case Extend():
            return Part("extend", event.task, event.duration)
    return None


def is_in_force(record: Record, decision: Decision, along: Iterable[Event]) -> bool:
    """Whether anything of a decision still stands in the record. If nothing does, there is nothing to take back.

    Parameters
    ----------
    record
        Of the same events. A decision that does not count is not in force.
    decision
        As amended.
    along
        What `came_with` it.

    Returns
    -------
    bool
        When it is true, `reversal` says whether something is to be done: the same may stand by another event too.
    """
    along = list(along)
    runs = record.runs
    lengths = [*decision.trim.items(), *((event.task, event.duration) for event in along if isinstance(event, Extend))]
    return (
        any(task_id in runs and runs[task_id].state == DEFERRED for task_id in decision.defer)
        or any(task_id in runs and runs[task_id].planned_min == minutes for task_id, minutes in lengths)
        or any(record.chosen.get(event.alternative) == event.option for event in along if isinstance(event, Choose))
        or any(event.lane in runs[event.task].lanes for event in along if isinstance(event, Move))
    )


def reversal(record: Record, events: Iterable[Event], decision_id: str, now: datetime) -> Reversal | None:
    """What takes a decision back at `now`: everything goes to where it would be without it, as far as that is still open.

    Parameters
    ----------
    record
        What `reconcile` made of the events at `now`.
    events
        In any order.
    decision_id
        Id of the decision.
    now
        Aware.

    Returns
    -------
    Reversal or None
        None: no such decision counts.
    """
    decision = next((e for e in record.counted.events if e.id == decision_id and isinstance(e, Decision)), None)
    if decision is None:
        return None
    along = came_with(decision, record.counted)
    gone = {decision.id, *(e.id for e in along)}
    without = reconcile(record.plan, [e for e in events if e.id not in gone], now)
    said: list[ReversalStep | str] = [
        *_endings(record, without, along), *_deferred(record, without, decision), *_lanes(record, without, along),
        *_lengths(record, without, decision, along), *_broken_off(record, along),
    ]
    return Reversal(decision.at, [s for s in said if isinstance(s, ReversalStep)], [s for s in said if isinstance(s, str)])


def _endings(record: Record, without: Record, along: Iterable[Event]) -> Iterator[ReversalStep | str]:
    """An ending that was chosen before is chosen back; one that was open is open again once the choice is withdrawn."""
    alternatives = {a.id: a for a in record.plan.alternatives}
    for event in (e for e in along if isinstance(e, Choose)):
        one = alternatives[event.alternative]
        named, before = one.title or one.id, without.chosen.get(one.id)
        if before == event.option or record.chosen.get(one.id) != event.option:
            continue
        begun = [t for t in one.options[event.option] if record.runs[t].state not in (NOT_STARTED, DEFERRED)]
        if begun and (before or one.default) != event.option:
            yield f"'{event.option}' stays taken for {named}: {_state(record, begun[0])}"
        elif before is None:
            yield ReversalStep({"kind": "withdraw", "event": event.id}, f"leave '{named}' open again, by default '{one.default}'")
        else:
            back = {"kind": "choose", "alternative": one.id, "option": before}
            yield ReversalStep(back, f"take '{before}' for {named} again")


def _deferred(record: Record, without: Record, decision: Decision) -> Iterator[ReversalStep | str]:
    tasks = [t for t in decision.defer if record.runs[t].state == DEFERRED and _without(record, without, t).state != DEFERRED]
    if tasks:
        yield ReversalStep({"kind": "reinstate", "tasks": tasks}, f"reinstate {', '.join(_named(record, t) for t in tasks)}")


def _lanes(record: Record, without: Record, along: Iterable[Event]) -> Iterator[ReversalStep | str]:
    for event in (e for e in along if isinstance(e, Move)):
        run, before = record.runs[event.task], _without(record, without, event.task).lanes
        lane = next((name for name in before if name not in run.lanes), None)
        if lane is None or event.lane not in run.lanes:
            continue
        if run.state not in (NOT_STARTED, DEFERRED):
            yield f"{_named(record, event.task)} stays with {event.lane}: {_state(record, event.task)}"
            continue
        back = {"kind": "move", "task": event.task, "lane": lane}
        yield ReversalStep(back, f"hand {_named(record, event.task)} back to {lane}")


def _lengths(
    record: Record, without: Record, decision: Decision, along: Iterable[Event]
) -> Iterator[ReversalStep | str]:
    extended = {e.task: e.duration for e in along if isinstance(e, Extend)}
    for task_id, minutes in {**decision.trim, **extended}.items():
        run, before = record.runs[task_id], _without(record, without, task_id)
        if run.planned_min != minutes or before.planned_min == minutes:
            continue
        if run.state in (DONE, BROKEN_OFF):
            set_to = "extended to" if task_id in extended else "cut to"
            yield f"{_named(record, task_id)} stays {set_to} {length(minutes)}: {_state(record, task_id)}"
            continue
        kind = "extend" if before.planned_min > minutes else "trim"
        back = {"kind": kind, "task": task_id, "duration": before.planned_min}
        yield ReversalStep(back, f"{_named(record, task_id)} back to {length(before.planned_min)}")
        if before.whole_by_estimate_min is not None and run.whole_by_estimate_min is None:
            yield f"the estimate of {_named(record, task_id)} that the new length set aside is not back: enter it again"


def _broken_off(record: Record, along: Iterable[Event]) -> Iterator[ReversalStep | str]:
    for event in (e for e in along if isinstance(e, BreakOff)):
        if record.runs[event.task].state == BROKEN_OFF:
            yield f"{_named(record, event.task)} stays broken off"


def _without(record: Record, without: Record, task_id: str) -> TaskRun:
    """A task as it would be without the decision; one that the decision alone brought in as if nothing had happened to it."""
    return without.runs.get(task_id) or run_of(record.runs[task_id].task, record.runs[task_id].origin)


def _named(record: Record, task_id: str) -> str:
    return f"{task_id} {record.runs[task_id].task.title}".rstrip()


def _state(record: Record, task_id: str) -> str:
    return f"{task_id} is {record.runs[task_id].state}"
