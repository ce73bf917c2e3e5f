"""Rehearsal: a recorded run up to a moment, continued with the trainee's decisions in place of the recorded ones.

Rules for the recorded events:

1. Every event that the room had received by the moment is kept.
2. Decisions received later are removed: deferring, reinstating, trimming, extending, inserting, choosing, adding, moving,
   breaking off, and decisions in words. Events that amend or withdraw them are removed too.
3. Other events received later (starts, dones, holds, estimates, readings, checks, notes) report what the crew did. They are
   kept as long as they fit the branch. An event is removed if its task is not in the plan of record of the branch. It is
   also removed if it causes a discrepancy in the branch and caused none in the recording, such as a start in a lane that
   the trainee keeps busy. Every removed event is listed with the reason.
4. The recorded end of the sortie is removed if crew work is left in the branch. The branch then continues beyond the
   recording, until its crew is in.
5. A branch of a branch is a rehearsal of the same recorded run, from the earlier of the two moments on.

The recorded crew does not react to the trainee. Work that the recording does not hold, such as a task that the recorded
room gave up, gets its start and done from the trainee only. No event is invented.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from typing import NamedTuple

from dashboard.core.base.times import instant_text, plus_minutes
from dashboard.core.events.add import Add
from dashboard.core.events.answers import Answer
from dashboard.core.events.end import End
from dashboard.core.events.event import Event
from dashboard.core.record.fold import reconcile
from dashboard.core.record.lifecycle import DONE
from dashboard.core.record.record import Record
from dashboard.core.schedule.network import remaining_tasks
from dashboard.core.state.history import known_from
from dashboard.log.eventtext import text_of_event
from dashboard.words import how_many
from replay.recording import RecordedRun

LEFT_OUT_NAME = "left-out.jsonl"
AFTER_LIMIT_MIN = 240.0


class Removed(NamedTuple):
    """A recorded event that is not in the branch, and why."""

    event: Event
    why: str


@dataclass(frozen=True)
class Branch:
    """A branch of a recorded run.

    Parameters
    ----------
    run : RecordedRun
        The run as rehearsed.
    at : datetime
        The moment at which it leaves the recording.
    removed : tuple of Removed
        Recorded events that are not in the branch.
    """

    run: RecordedRun
    at: datetime
    removed: tuple[Removed, ...]

    @cached_property
    def marks(self) -> list[datetime]:
        """The instants at which events of the branch became known, in order."""
        return sorted({instant for event in self.run.events if self.run.first <= (instant := known_from(event)) <= self.last})

    @cached_property
    def last(self) -> datetime:
        """The end of the branch: when its crew is in and its last event is known. Before that, 4 h after the limit."""
        run, limit_min = self.run, self.run.plan.sortie.limit
        latest = max(run.last, self.at, plus_minutes(run.pet_zero, limit_min + AFTER_LIMIT_MIN))
        record = reconcile(run.plan, run.events, latest)
        if _crew_tasks_left(record):
            return latest
        close_outs = [until for one in record.runs.values() if (until := record.close_out_until(one)) is not None]
        known = [self.at, *map(known_from, run.events), *(plus_minutes(record.pet_zero, until) for until in close_outs)]
        return min(latest, max(known))

    def left_out(self) -> str:
        """The removed events as JSON Lines, each with the reason."""
        lines = (f'{{"event":{text_of_event(one.event)},"why":{json.dumps(one.why)}}}' for one in self.removed)
        return "".join(f"{line}\n" for line in lines)

    def header(self) -> dict[str, str]:
        """The header with which the branch is saved."""
        notes = f"Rehearsal: from {instant_text(self.at)} on with the trainee's own decisions. "
        notes += f"Left out of the recording: {how_many(len(self.removed), 'event')}, listed in {LEFT_OUT_NAME}."
        run = self.run
        return {
            "title": f"Rehearsal of {run.parent}",
            "setting": run.setting,
            "date": run.date,
            "notes": notes,
            "parent": run.parent,
            "from": instant_text(run.rehearsed_from or self.at),
        }


def branched(run: RecordedRun, at: datetime, own_events: Iterable[Event] = ()) -> Branch:
    """Make the branch of a run from a moment on, with the trainee's own events.

    Parameters
    ----------
    run : RecordedRun
    at : datetime
        The moment. Events that the room had received by then are kept.
    own_events : iterable of event models
        The events that the trainee entered. One without `received` counts from its own time.

    Returns
    -------
    Branch
    """
    known, later = run.known_at(at), run.events[len(run.known_at(at)) :]
    own = sorted(
        (e if e.received is not None else e.model_copy(update={"received": e.at}) for e in own_events),
        key=lambda e: (e.came_in, e.seq or 0),
    )
    sieve = _Sieve(run, at, [*known, *own])
    for event in sorted(later, key=lambda e: (e.at, e.seq or 0)):
        sieve.judge(event)
    kept = [*known, *(e for e in later if e.id in sieve.kept)]
    events = sorted([*kept, *own], key=lambda e: (e.came_in, e.seq or 0))
    begin = min(at, run.rehearsed_from or at)
    own_run = replace(run, events=tuple(events), parent=run.parent or run.title, rehearsed_from=begin)
    return Branch(own_run, at, tuple(sieve.removed))


class _Sieve:
    """Judges the recorded events received after the moment, one by one, against the events kept so far."""

    def __init__(self, run: RecordedRun, at: datetime, given: Sequence[Event]) -> None:
        self.run, self.at = run, at
        self.events = list(given)
        self.kept: set[str] = set()
        self.removed: list[Removed] = []
        last = max([run.last, *(e.at for e in run.events)])
        recorded = reconcile(run.plan, run.events, last)
        self.complained = {d.event for d in recorded.discrepancies}
        self.tasks = set(run.plan.all_tasks()) | {e.task.id for e in given if isinstance(e, Add)}

    def judge(self, event: Event) -> None:
        why = self._gone(event)
        if why is None:
            self.kept.add(event.id)
            self.events.append(event)
        else:
            self.removed.append(Removed(event, why))

    def _gone(self, event: Event) -> str | None:
        """Why an event is removed; None: it is kept."""
        if event.is_decision:
            return "a recorded decision"
        if isinstance(event, Answer):
            there = any(event.event == other.id for other in self.events)
            return None if there else f"answers {event.event}, which is not in the branch"
        task = event.own_task()
        if not (event.is_work or isinstance(event, End)):
            return None
        if task is not None and task not in self.tasks:
            return f"{task} is not in the branch"
        if isinstance(event, End):
            left = _crew_work_left(self.run, self.events, event.at)
            return f"crew work is left: {', '.join(left)}" if left else None
        record = reconcile(self.run.plan, [*self.events, event], event.at)
        if task is not None and (task not in record.runs or self._inserted_only_in_recording(task, record)):
            return f"{task} is not in the plan of record of the branch"
        if task is not None and not self._in_plan_before(task, event.at):
            return f"{task} is out of the plan of record of the branch"
        if event.id not in self.complained:
            for complaint in record.discrepancies:
                if complaint.event == event.id:
                    return f"does not fit: expected {complaint.expected}; found {complaint.found}"
        return None

    def _inserted_only_in_recording(self, task: str, record: Record) -> bool:
        """Whether the task belongs to a contingency that the branch has not inserted."""
        of = next((c.id for c in self.run.plan.contingencies if any(t.id == task for t in c.tasks)), None)
        return of is not None and of not in record.inserted

    def _in_plan_before(self, task: str, at: datetime) -> bool:
        record = reconcile(self.run.plan, self.events, at)
        run = record.runs.get(task)
        return run is None or run.state == DONE or record.in_plan(task)


def _crew_work_left(run: RecordedRun, events: Sequence[Event], at: datetime) -> list[str]:
    return _crew_tasks_left(reconcile(run.plan, events, at))


def _crew_tasks_left(record: Record) -> list[str]:
    crew = set(record.plan.crew_lane_ids())
    return [t for t in remaining_tasks(record) if crew & set(record.runs[t].lanes)]
