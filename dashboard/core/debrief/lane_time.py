"""What went on in each lane, minute by minute, as briefed and as run: stretches that neither overlap nor leave gaps.

Where two things claim one minute of a lane, the stronger kind has it (work before close-out before hold before an
unknown start), and of the same kind the one that began later. Work that was handed over while it was going on counts
wholly in the lane that it was handed to.
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
from dashboard.core.plan.model import Plan, Task
from dashboard.core.record.lifecycle import BROKEN_OFF, DONE, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.plan_pace import Projection

_TINY_MIN = 1e-6
_RANK: Mapping[SegmentKind, int] = {"work": 4, "projected": 4, "close-out": 3, "hold": 2, "start not known": 1, "idle": 0}


class Piece(NamedTuple):
    """A claim on a lane. PET minutes."""

    begin: float
    end: float
    kind: SegmentKind
    task: str | None = None
    why: str | None = None


@dataclass(frozen=True)
class LaneTime:
    """One lane: its stretches from `begin` on, and where the last work in it ends (None: nothing went on in it)."""

    lane: str
    segments: list[Segment]
    end_pet_min: float | None


def partition(pieces: Iterable[Piece], begin: float, end: float) -> list[Segment]:
    """The stretches of one lane from `begin` to `end`; minutes that nothing claims are idle."""
    claims = [piece for piece in pieces if piece.end > piece.begin and piece.end > begin and piece.begin < end]
    edges = {begin, end, *(p.begin for p in claims), *(p.end for p in claims)}
    marks = sorted(mark for mark in edges if begin <= mark <= end)
    found: list[Segment] = []
    for left, right in zip(marks, marks[1:], strict=False):
        over = [piece for piece in claims if piece.begin <= left and piece.end >= right]
        best = max(over, key=lambda p: (_RANK[p.kind], p.begin), default=Piece(left, right, "idle"))
        last = found[-1] if found else None
        if last is not None and (last.kind, last.task, last.why) == (best.kind, best.task, best.why):
            found[-1] = last.model_copy(update={"to_pet_min": right})
        else:
            found.append(Segment(kind=best.kind, task=best.task, why=best.why, from_pet_min=left, to_pet_min=right))
    return found


def briefed_tasks(plan: Plan, lane: str) -> list[Task]:
    """The briefed tasks of a lane: with a start, default options taken, no get-aheads."""
    left_out = options_not_default(plan)
    return [
        task for task in plan.tasks
        if lane in task.lanes and task.start is not None and not task.get_ahead and task.id not in left_out
    ]


def options_not_default(plan: Plan) -> set[str]:
    """The tasks that are in the plan only when an option other than the default is taken."""
    default = {task_id for a in plan.alternatives for task_id in a.options[a.default]}
    return {task_id for a in plan.alternatives for task_ids in a.options.values() for task_id in task_ids} - default


def briefed_segments(plan: Plan, lane: str) -> list[Segment]:
    """A lane as briefed, from PET zero to its briefed end; empty when it has no briefed work."""
    pieces = [
        Piece(task.start, task.start + task.likely_min, "work", task.id)
        for task in briefed_tasks(plan, lane) if task.start is not None
    ]
    return partition(pieces, 0.0, max(piece.end for piece in pieces)) if pieces else []


def lane_times(record: Record, projection: Projection) -> dict[str, LaneTime]:
    """Every lane as run; what is still to come as projected at plan pace."""
    return {lane: _lane_time(record, projection, lane) for lane in record.plan.lane_ids()}


def _lane_time(record: Record, projection: Projection, lane: str) -> LaneTime:
    runs = [run for run in record.runs.values() if lane in run.lanes]
    strong = [piece for run in runs for piece in (*work_pieces(record, projection, run), *_close_out(record, run))]
    unknown = [run for run in runs if _start_unknown(run)]
    ends = [piece.end for piece in strong] + [r.finish_pet_min for r in runs if r.finish_pet_min is not None]
    if not ends:
        return LaneTime(lane, [], None)
    end = max(ends)
    pieces = [*strong, *(piece for run in runs for piece in hold_pieces(record, projection, run))]
    pieces += _lane_holds(record, lane, end)
    for run in unknown:
        finish = run.finish_pet_min or 0.0
        begin = max((p.end for p in pieces if p.end <= finish + _TINY_MIN), default=min(0.0, finish))
        pieces.append(Piece(begin, finish, "start not known", run.task.id))
    return LaneTime(lane, partition(pieces, min([0.0, *(p.begin for p in pieces)]), end), end)


def _start_unknown(run: TaskRun) -> bool:
    return run.finish_pet_min is not None and run.state in (DONE, BROKEN_OFF) and not run.spans


def work_pieces(record: Record, projection: Projection, run: TaskRun) -> Iterator[Piece]:
    """The stretches in which a task was worked at, and in which it is projected to be."""
    name, slot = run.task.id, projection.slots.get(run.task.id)
    for begin, end in run.spans:
        yield Piece(begin, end, "work", name)
    if run.working_since_pet_min is not None:
        yield Piece(run.working_since_pet_min, record.pet_min, "work", name)
        if slot is not None:
            yield Piece(record.pet_min, slot.finish_pet_min, "projected", name)
    elif slot is not None and run.state in (NOT_STARTED, ON_HOLD):
        yield Piece(slot.start_pet_min, slot.finish_pet_min, "projected", name)


def _close_out(record: Record, run: TaskRun) -> Iterator[Piece]:
    until = record.close_out_until(run)
    if until is not None and run.finish_pet_min is not None:
        last = until if record.end_pet_min is None else min(until, record.end_pet_min)
        yield Piece(run.finish_pet_min, last, "close-out", run.task.id)


def hold_pieces(record: Record, projection: Projection, run: TaskRun) -> Iterator[Piece]:
    """The stretches in which a task was on hold, each with its reason as logged."""
    spans = list(run.spans)
    if run.working_since_pet_min is not None:
        spans.append((run.working_since_pet_min, record.pet_min))
    if not spans:
        return
    holds = {_pet(record, event): event for event in _events_of(record, run) if isinstance(event, Hold | Insert)}
    slot = projection.slots.get(run.task.id)
    resumed = [begin for begin, _ in spans[1:]]
    if run.working_since_pet_min is None:
        goes_on = slot.start_pet_min if slot is not None else record.pet_min
        resumed.append(run.finish_pet_min if run.finish_pet_min is not None else goes_on)
    for (_, stopped), again in zip(spans, resumed, strict=False):
        event = next((e for pet, e in holds.items() if abs(pet - stopped) < _TINY_MIN), None)
        if event is not None and again > stopped:
            yield Piece(stopped, again, "hold", run.task.id, _reason(record, event))


def _events_of(record: Record, run: TaskRun) -> list[Event]:
    mine = set(run.events)
    return [event for event in record.counted.events if event.id in mine]


def _reason(record: Record, event: Hold | Insert) -> str | None:
    if isinstance(event, Hold):
        return event.reason
    contingency = next(c for c in record.plan.contingencies if c.id == event.contingency)
    return contingency.trigger or contingency.title or contingency.id


def _lane_holds(record: Record, lane: str, end: float) -> list[Piece]:
    """The stretches in which the lane itself was on hold, up to its last work."""
    found: list[Piece] = []
    since: float | None = None
    why: str | None = None
    for event in record.counted.events:
        if isinstance(event, Hold) and event.covers(lane) and since is None:
            since, why = _pet(record, event), event.reason
        elif isinstance(event, Resume) and since is not None and _resumes(record, event, lane):
            found.append(Piece(since, _pet(record, event), "hold", None, why))
            since = None
    if since is not None:
        found.append(Piece(since, end, "hold", None, why))
    return [piece._replace(end=min(piece.end, end)) for piece in found if piece.begin < end]


def _resumes(record: Record, event: Resume, lane: str) -> bool:
    if event.covers(lane):
        return True
    run = record.runs.get(event.task) if event.task is not None else None
    return run is not None and lane in run.lanes


def _pet(record: Record, event: Event) -> float:
    return minutes_between(record.pet_zero, event.at)


def held_min(pieces: Sequence[Piece]) -> float:
    """Minutes on hold of these pieces."""
    return sum(piece.end - piece.begin for piece in pieces)
