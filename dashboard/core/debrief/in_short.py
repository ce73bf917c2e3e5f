"""What the first page of a debrief needs: the largest causes of lost minutes, contingencies, and how the log was kept."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from dashboard.core.base.times import minutes_between
from dashboard.core.debrief.facts import ContingencyFact, LaneDebrief, LedgerLine, LostTo
from dashboard.core.events.event import Event
from dashboard.core.events.insert import Insert
from dashboard.core.events.note import Note
from dashboard.core.record.record import Record

MOST_CAUSES = 3
LEAST_MIN = 2.0


def typed_afterwards(events: Sequence[Event]) -> bool:
    """Whether a log was typed after the sortie: its first event was received when its last had happened already.

    Parameters
    ----------
    events : sequence of event models

    Returns
    -------
    bool
        False for a log that does not say when its events were received, and for a log with a single event.
    """
    received = [event.received for event in events if event.received is not None]
    if len(events) < 2 or len(received) < len(events):
        return False
    return min(received) >= max(event.at for event in events)


def largest_causes(lanes: Mapping[str, LaneDebrief]) -> list[LostTo]:
    """The causes that cost the crew most minutes against the brief.

    A cause that several lanes share (a joint task, a hold of it) counts once, with the minutes of the lane that lost most.

    Parameters
    ----------
    lanes : mapping of str to LaneDebrief

    Returns
    -------
    list of LostTo
        At most `MOST_CAUSES`, the largest first. Causes of less than `LEAST_MIN` minutes are left out.
    """
    found: dict[tuple[object, ...], LostTo] = {}
    for name, lane in lanes.items():
        if lane.kind != "crew":
            continue
        for line in lane.ledger:
            if line.minutes < LEAST_MIN:
                continue
            key = _cause(line)
            before = found.get(key)
            lost_by = [*(before.lanes if before is not None else []), name]
            largest = line if before is None or line.minutes > before.line.minutes else before.line
            found[key] = LostTo(lanes=lost_by, line=largest)
    return sorted(found.values(), key=lambda one: -one.line.minutes)[:MOST_CAUSES]


def _cause(line: LedgerLine) -> tuple[object, ...]:
    return (line.kind, line.task, line.why, line.waited_for, line.name)


def inserted_contingencies(record: Record) -> list[ContingencyFact]:
    """The contingencies that were inserted, and what they cost.

    Parameters
    ----------
    record : Record

    Returns
    -------
    list of ContingencyFact
        In the order of the plan.
    """
    first: dict[str, float] = {}
    for event in record.counted.events:
        if isinstance(event, Insert):
            first.setdefault(event.contingency, minutes_between(record.pet_zero, event.at))
    found = []
    for one in record.plan.contingencies:
        if one.id not in record.inserted:
            continue
        worked: dict[str, float] = {}
        for task in one.tasks:
            run = record.runs[task.id]
            for lane in run.lanes:
                worked[lane] = worked.get(lane, 0.0) + run.worked_min(record.pet_min)
        found.append(
            ContingencyFact(contingency=one.id, trigger=one.trigger, inserted_pet_min=first.get(one.id), worked_min=worked)
        )
    return found


def remarks_by_task(record: Record) -> dict[str, list[str]]:
    """The remarks of the log by the task that they explain.

    A remark belongs to a task when the event names the task, or when a note has the id of the task in its text.

    Parameters
    ----------
    record : Record

    Returns
    -------
    dict of str to list of str
        In the order of the log; tasks without a remark are left out.
    """
    ids = record.runs.keys()
    found: dict[str, list[str]] = {}
    for event in record.counted.events:
        said = event.text if isinstance(event, Note) else event.note
        if not said:
            continue
        named = getattr(event, "task", None)
        about = {named} if isinstance(named, str) else set()
        if isinstance(event, Note):
            about |= ids & set(re.findall(r"[\w-]+", said))
        for task_id in about & ids:
            found.setdefault(task_id, []).append(said)
    return found
