"""Partitions the time of each lane by activity, as briefed and as run. The segments neither overlap nor leave gaps.

When two activities claim the same minute of a lane, the stronger kind gets it: work, then close-out, then hold, then an
unknown start. Between two of the same kind, the one that began later gets it. Work that was handed over in progress
counts wholly in the lane that took it over.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from dashboard.core.base.times import minutes_between
from dashboard.core.debrief.facts import Segment, SegmentKind
from dashboard.core.events.event import Event
from dashboard.core.events.hold import Hold, Resume
from dashboard.core.events.insert import Insert
from dashboard.core.plan.briefed import briefed_tasks
from dashboard.core.plan.model import Plan
from dashboard.core.record.lifecycle import BROKEN_OFF, DONE, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.plan_pace import Projection

_TINY_MIN = 1e-6
_RANK: Mapping[SegmentKind, int] = {"work": 4, "projected": 4, "close-out": 3, "hold": 2, "start not known": 1, "idle": 0}


class Claim(NamedTuple):
    """An activity that claims an interval of a lane.

    Parameters
    ----------
    begin, end : float
        PET minutes.
    kind : str
        Its rank decides which of two overlapping claims gets the minutes.
    task : str or None
    why : str or None
        Reason of a hold.
    """

    begin: float
    end: float
    kind: SegmentKind
    task: str | None = None
    why: str | None = None


@dataclass(frozen=True)
class LaneTime:
    """The time of one lane.

    Parameters
    ----------
    lane : str
    segments : list of Segment
        From PET zero, or from the first activity if that is earlier.
    end_pet_min : float or None
        End of the last work; None when the lane had no activity.
    """

    lane: str
    segments: list[Segment]
    end_pet_min: float | None


def partition(claims: Iterable[Claim], begin: float, end: float) -> list[Segment]:
    """Divide an interval of one lane among the claims.

    Parameters
    ----------
    claims : iterable of Claim
        They may overlap.
    begin, end : float
        The interval, PET minutes.

    Returns
    -------
    list of Segment
        In order, without gaps. Minutes that nothing claims are idle.
    """
    claims = [claim for claim in claims if claim.end > claim.begin and claim.end > begin and claim.begin < end]
    edges = {begin, end, *(c.begin for c in claims), *(c.end for c in claims)}
    marks = sorted(mark for mark in edges if begin <= mark <= end)
    found: list[Segment] = []
    for left, right in zip(marks, marks[1:], strict=False):
        over = [claim for claim in claims if claim.begin <= left and claim.end >= right]
        best = max(over, key=lambda c: (_RANK[c.kind], c.begin), default=Claim(left, right, "idle"))
        last = found[-1] if found else None
        if last is not None and (last.kind, last.task, last.why) == (best.kind, best.task, best.why):
            found[-1] = last.model_copy(update={"to_pet_min": right})
        else:
            found.append(Segment(kind=best.kind, task=best.task, why=best.why, from_pet_min=left, to_pet_min=right))
    return found


def briefed_segments(plan: Plan, lane: str) -> list[Segment]:
    """The segments of a lane as briefed, from PET zero to its briefed end.

    Parameters
    ----------
    plan
        As briefed.
    lane
        Id of the lane.

    Returns
    -------
    list of Segment
        In order, without gaps; empty when the lane has no briefed work.
    """
    claims = [
        Claim(task.start, task.start + task.likely_min, "work", task.id)
        for task in briefed_tasks(plan, lane) if task.start is not None
    ]
    return partition(claims, 0.0, max(claim.end for claim in claims)) if claims else []


def lane_times(record: Record, projection: Projection) -> dict[str, LaneTime]:
    """The time of every lane as run. Work still to come is as projected at plan pace.

    Parameters
    ----------
    record : Record
    projection : Projection
        At plan pace.

    Returns
    -------
    dict of str to LaneTime
        By lane.
    """
    return {lane: _lane_time(record, projection, lane) for lane in record.plan.lane_ids()}


def _lane_time(record: Record, projection: Projection, lane: str) -> LaneTime:
    runs = [run for run in record.runs.values() if lane in run.lanes]
    strong = [claim for run in runs for claim in (*_work_claims(record, projection, run), *_close_out(record, run))]
    unknown = [run for run in runs if _start_unknown(run)]
    ends = [claim.end for claim in strong] + [r.finish_pet_min for r in runs if r.finish_pet_min is not None]
    if not ends:
        return LaneTime(lane, [], None)
    end = max(ends)
    claims = [*strong, *(claim for run in runs for claim in hold_claims(record, projection, run))]
    claims += _lane_holds(record, lane, end)
    for run in unknown:
        finish = run.finish_pet_min or 0.0
        begin = max((c.end for c in claims if c.end <= finish + _TINY_MIN), default=min(0.0, finish))
        claims.append(Claim(begin, finish, "start not known", run.task.id))
    return LaneTime(lane, partition(claims, min([0.0, *(c.begin for c in claims)]), end), end)


def _start_unknown(run: TaskRun) -> bool:
    return run.finish_pet_min is not None and run.state in (DONE, BROKEN_OFF) and not run.spans


def _work_claims(record: Record, projection: Projection, run: TaskRun) -> Iterator[Claim]:
    """The intervals in which a task was in work, and in which it is projected to be in work."""
    name, slot = run.task.id, projection.slots.get(run.task.id)
    for begin, end in run.spans:
        yield Claim(begin, end, "work", name)
    if run.working_since_pet_min is not None:
        yield Claim(run.working_since_pet_min, record.pet_min, "work", name)
        if slot is not None:
            yield Claim(record.pet_min, slot.finish_pet_min, "projected", name)
    elif slot is not None and run.state in (NOT_STARTED, ON_HOLD):
        yield Claim(slot.start_pet_min, slot.finish_pet_min, "projected", name)


def _close_out(record: Record, run: TaskRun) -> Iterator[Claim]:
    until = record.close_out_until(run)
    if until is not None and run.finish_pet_min is not None:
        last = until if record.end_pet_min is None else min(until, record.end_pet_min)
        yield Claim(run.finish_pet_min, last, "close-out", run.task.id)


def hold_claims(record: Record, projection: Projection, run: TaskRun) -> Iterator[Claim]:
    """The intervals in which a task was on hold, each with the reason that was logged.

    Parameters
    ----------
    record
        It gives the holds in the log, and the instant up to which work in hand counts.
    projection
        Of the record. A hold that has not ended lasts until the projected start of what remains, or until the instant of the
        record when nothing is projected.
    run
        The task.

    Yields
    ------
    Claim
        Of the kind ``hold``, in order of time.
    """
    spans = list(run.spans)
    if run.working_since_pet_min is not None:
        spans.append((run.working_since_pet_min, record.pet_min))
    if not spans:
        return
    holds = {_pet_of(record, event): event for event in _events_of(record, run) if isinstance(event, Hold | Insert)}
    slot = projection.slots.get(run.task.id)
    resumed = [begin for begin, _ in spans[1:]]
    if run.working_since_pet_min is None:
        goes_on = slot.start_pet_min if slot is not None else record.pet_min
        resumed.append(run.finish_pet_min if run.finish_pet_min is not None else goes_on)
    for (_, stopped), again in zip(spans, resumed, strict=False):
        event = next((e for pet, e in holds.items() if abs(pet - stopped) < _TINY_MIN), None)
        if event is not None and again > stopped:
            yield Claim(stopped, again, "hold", run.task.id, _reason(record, event))


def _events_of(record: Record, run: TaskRun) -> list[Event]:
    mine = set(run.events)
    return [event for event in record.counted.events if event.id in mine]


def _reason(record: Record, event: Hold | Insert) -> str | None:
    if isinstance(event, Hold):
        return event.reason
    contingency = next(c for c in record.plan.contingencies if c.id == event.contingency)
    return contingency.trigger or contingency.title or contingency.id


def _lane_holds(record: Record, lane: str, end: float) -> list[Claim]:
    """The intervals in which the lane itself was on hold, up to the end of its last work."""
    found: list[Claim] = []
    since: float | None = None
    why: str | None = None
    for event in record.counted.events:
        if isinstance(event, Hold) and event.covers(lane) and since is None:
            since, why = _pet_of(record, event), event.reason
        elif isinstance(event, Resume) and since is not None and _resumes(record, event, lane):
            found.append(Claim(since, _pet_of(record, event), "hold", None, why))
            since = None
    if since is not None:
        found.append(Claim(since, end, "hold", None, why))
    return [claim._replace(end=min(claim.end, end)) for claim in found if claim.begin < end]


def _resumes(record: Record, event: Resume, lane: str) -> bool:
    if event.covers(lane):
        return True
    run = record.runs.get(event.task) if event.task is not None else None
    return run is not None and lane in run.lanes


def _pet_of(record: Record, event: Event) -> float:
    return minutes_between(record.pet_zero, event.at)


def total_min(claims: Sequence[Claim]) -> float:
    """The sum of the lengths of the claims.

    Parameters
    ----------
    claims
        Where two of them overlap, their common minutes count twice.

    Returns
    -------
    float
        Minutes.
    """
    return sum(claim.end - claim.begin for claim in claims)
