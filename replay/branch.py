"""Rehearsal: a recorded run up to a moment, and from there on with the trainee's own decisions in place of the recorded ones.

What stays of the recording, and what does not:

1. Everything that the room had received by the moment stays.
2. Of what came in later, decisions go: deferring, reinstating, trimming, extending, inserting, choosing, adding, moving,
   breaking off, and decisions in words. What answers them (amend, withdraw) goes with them.
3. The rest (starts, dones, holds, estimates, readings, checks, notes) is what happened outside, and stays for as long as
   it fits the branch: an event goes when it speaks of a task that the branch does not have in its plan of record, or when
   it does not fit there (a start in a lane that the trainee keeps busy, a done of a task never begun) although it did fit in
   the recording. Every event that goes is listed with the reason.
4. The recorded end of the sortie goes when crew work is left in the branch. The branch then goes on beyond the recording,
   until its crew is in.
5. A branch of a branch is a rehearsal of the same recorded run, from the earlier of the two moments on.

The outside does not answer to the trainee: work that the recording never saw (a task that the recorded room gave up) gets
its start and done from the trainee alone. That is the simplest rule that invents nothing.
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
    """A branch of a recorded run: the run as rehearsed, from when, and what was left out of the recording."""

    run: RecordedRun
    at: datetime
    removed: tuple[Removed, ...]

    @cached_property
    def marks(self) -> list[datetime]:
        """The instants from which an event of the branch counts, in order."""
        return sorted({instant for event in self.run.events if self.run.first <= (instant := known_from(event)) <= self.last})

    @cached_property
    def last(self) -> datetime:
        """Where the branch ends: when its crew is in and nothing more is known; until then, 4 h after the limit of the plan."""
        run, limit_min = self.run, self.run.plan.sortie.limit
        latest = max(run.last, self.at, plus_minutes(run.pet_zero, limit_min + AFTER_LIMIT_MIN))
        record = reconcile(run.plan, run.events, latest)
        if _crew_tasks_left(record):
            return latest
        close_outs = [until for one in record.runs.values() if (until := record.close_out_until(one)) is not None]
        known = [self.at, *map(known_from, run.events), *(plus_minutes(record.pet_zero, until) for until in close_outs)]
        return min(latest, max(known))

    def left_out(self) -> str:
        """What was left out of the recording, as JSON Lines: each event and why."""
        lines = (f'{{"event":{text_of_event(one.event)},"why":{json.dumps(one.why)}}}' for one in self.removed)
        return "".join(f"{line}\n" for line in lines)

    def header(self) -> dict[str, str]:
        """The header that the branch is saved with."""
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
    """The branch of a run from a moment on, with the trainee's own events.

    Parameters
    ----------
    run : RecordedRun
    at : datetime
        The moment: what the room had received by then stays.
    own_events : iterable of event models
        What the trainee entered, with `received`; an event without it counts from its own time.
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
    """Goes through what came in after the moment, keeping what fits what was kept so far and the trainee's events."""

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
        """Why an event does not stay; None: it does."""
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
        """A task of a contingency that the branch has not inserted."""
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
