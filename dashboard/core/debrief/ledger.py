"""The ledger of a lane: lines of minutes lost and gained, which add up to its actual end less its briefed end.

The ledger is made from two partitions of the lane's time, as briefed and as run (`lane_time.py`). Each minute as run counts
positive in exactly one line, and each minute as briefed counts negative in exactly one line. The lines therefore add up
by construction, and there is no line for a remainder.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import zip_longest
from typing import NamedTuple

from dashboard.core.debrief.facts import LedgerKind, LedgerLine, Segment, WaitFor
from dashboard.core.debrief.lane_time import LaneTime
from dashboard.core.plan.briefed import options_not_default
from dashboard.core.record.lifecycle import BROKEN_OFF, DONE
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.plan_pace import Projection
from dashboard.core.schedule.windows import windows_by_kind

_TINY_MIN = 1e-9
_SLACK_MIN = 0.5  # logs are often kept in whole minutes: a release may be logged slightly after the start it allowed


class Ledger(NamedTuple):
    """The inputs of the ledger of one lane."""

    record: Record
    projection: Projection
    lane: str
    briefed: list[Segment]
    times: Mapping[str, LaneTime]

    @property
    def run_as(self) -> list[Segment]:
        """The segments of the lane as run."""
        return self.times[self.lane].segments


def ledger_lines(ledger: Ledger) -> list[LedgerLine]:
    """Make the lines of the ledger.

    Parameters
    ----------
    ledger : Ledger

    Returns
    -------
    list of LedgerLine
        The most minutes first. They add up to the lane's end less its briefed end.
    """
    lines = [*_before_zero(ledger), *_tasks(ledger), *_close_outs_and_holds(ledger), *_waits(ledger)]
    return sorted((line for line in lines if abs(line.minutes) > _TINY_MIN), key=lambda line: -abs(line.minutes))


def _before_zero(ledger: Ledger) -> Iterator[LedgerLine]:
    end = ledger.times[ledger.lane].end_pet_min
    begin = ledger.run_as[0].from_pet_min if ledger.run_as else end or 0.0
    yield LedgerLine(kind="before PET zero", minutes=min(0.0, begin))


# Work -------------------------------------------------------------------------------------------


def _tasks(ledger: Ledger) -> Iterator[LedgerLine]:
    briefed = _minutes_by_task(ledger.briefed, ("work",))
    worked = _minutes_by_task(ledger.run_as, ("work", "projected"))
    unknown = _minutes_by_task(ledger.run_as, ("start not known",))
    for task_id in dict.fromkeys((*briefed, *worked, *unknown)):
        run, now = ledger.record.runs[task_id], worked.get(task_id, 0.0) + unknown.get(task_id, 0.0)
        if task_id not in briefed:
            yield LedgerLine(kind=_kind_of_more(ledger, run), minutes=now, task=task_id)
            continue
        kind, by_decision = _kind_of_briefed(ledger, run, task_id in unknown), 0.0
        if kind is None and run.length_set:
            by_decision = run.planned_min - run.task.likely_min
            yield LedgerLine(kind="extended" if run.extended else "trimmed", minutes=by_decision, task=task_id)
        rest = now - briefed[task_id] - by_decision
        yield LedgerLine(kind=kind or ("overrun" if rest > 0 else "underrun"), minutes=rest, task=task_id)


def _minutes_by_task(segments: list[Segment], kinds: tuple[str, ...]) -> dict[str, float]:
    found: dict[str, float] = {}
    for segment in segments:
        if segment.kind in kinds and segment.task is not None:
            found[segment.task] = found.get(segment.task, 0.0) + segment.minutes
    return found


def _kind_of_briefed(ledger: Ledger, run: TaskRun, unknown: bool) -> LedgerKind | None:
    """Why a briefed task did not take its briefed minutes; None: it overran or underran."""
    record, task_id = ledger.record, run.task.id
    out = record.out_because.get(task_id)
    if out is not None:
        return "deferred" if out.deferred else "option not taken"
    if ledger.lane not in run.lanes:
        return "handed over"
    if run.state == BROKEN_OFF:
        return "broken off"
    if run.state == DONE:
        # Done without a start: how many of the minutes before were work and how many were waiting is unknown.
        return "start not known" if unknown or not run.spans else None
    return None if task_id in ledger.projection.slots else "not done"


def _kind_of_more(ledger: Ledger, run: TaskRun) -> LedgerKind:
    """Why a task that is not briefed in this lane took minutes in it."""
    if run.origin != "briefed":
        return "contingency" if run.origin == "contingency" else "added"
    if ledger.lane not in run.task.lanes:
        return "taken over"
    return "option taken" if run.task.id in options_not_default(ledger.record.plan) else "get-ahead"


# Stops ------------------------------------------------------------------------------------------


def _close_outs_and_holds(ledger: Ledger) -> Iterator[LedgerLine]:
    totals: dict[tuple[LedgerKind, str | None, str | None], float] = {}
    for segment in ledger.run_as:
        if segment.kind == "close-out" or segment.kind == "hold":
            key: tuple[LedgerKind, str | None, str | None] = (segment.kind, segment.task, segment.why)
            totals[key] = totals.get(key, 0.0) + segment.minutes
    for (kind, task_id, why), minutes in totals.items():
        yield LedgerLine(kind=kind, minutes=minutes, task=task_id, why=why)


# Waits ------------------------------------------------------------------------------------------


class _Cause(NamedTuple):
    waited_for: WaitFor
    name: str | None


class _Release(NamedTuple):
    pet_min: float
    cause: _Cause


_NO_REASON = _Cause("no reason", None)


def _waits(ledger: Ledger) -> Iterator[LedgerLine]:
    """For each task: idle minutes before it beyond its briefed gap are a wait; an unused briefed gap is a gain."""
    gaps = {task_id: sum(s.minutes for s in idle) for task_id, idle in _idle_before(ledger.briefed).items()}
    for task_id, idle in _idle_before(ledger.run_as).items():
        gap = gaps.pop(task_id, 0.0)
        by_cause: dict[_Cause, float] = {}
        for segment in idle:
            for cause, minutes in _why_idle(ledger, task_id, segment):
                by_cause[cause] = by_cause.get(cause, 0.0) + minutes
        for cause in sorted(by_cause, key=lambda c: c == _NO_REASON):  # a known cause uses the briefed gap first
            used = min(gap, by_cause[cause])
            gap -= used
            yield LedgerLine(
                kind="wait", minutes=by_cause[cause] - used, task=task_id, waited_for=cause.waited_for, name=cause.name
            )
        yield LedgerLine(kind="gap not used", minutes=-gap, task=task_id)
    for task_id, gap in gaps.items():
        yield LedgerLine(kind="gap not used", minutes=-gap, task=task_id)


def _idle_before(segments: list[Segment]) -> dict[str | None, list[Segment]]:
    """Idle segments by the task that follows. The key is None when a hold of the lane or a task without length follows."""
    found: dict[str | None, list[Segment]] = {}
    for segment, following in zip_longest(segments, segments[1:]):
        if segment.kind == "idle":
            found.setdefault(following.task if following is not None else None, []).append(segment)
    return found


def _why_idle(ledger: Ledger, task_id: str | None, idle: Segment) -> Iterator[tuple[_Cause, float]]:
    """Minutes of an idle segment by cause: the last release within it up to that release, then no known reason."""
    run = ledger.record.runs.get(task_id) if task_id is not None else None
    begin, end = idle.from_pet_min, idle.to_pet_min
    held_back = [
        release for release in (_releases(ledger, run, end) if run is not None else ())
        if begin + _TINY_MIN < release.pet_min <= end + _SLACK_MIN
    ]
    last = max(held_back, key=lambda release: release.pet_min, default=None)
    until = begin if last is None else min(last.pet_min, end)
    if last is not None:
        yield last.cause, until - begin
    yield _NO_REASON, end - until


def _releases(ledger: Ledger, run: TaskRun, begun: float) -> Iterator[_Release]:
    """For each thing that held a task back: when it was available."""
    task = run.task
    for kind in task.needs:
        opened = [w.from_ for w in windows_by_kind(ledger.record.plan.windows).get(kind, []) if w.from_ <= begun + _SLACK_MIN]
        if opened:
            yield _Release(max(opened), _Cause("window", kind))
    if task.not_before is not None:
        yield _Release(task.not_before, _Cause("not before", None))
    for needed in task.after:
        yield from _released_by(ledger, needed, 0.0)
    for follow in task.follows:
        yield from _released_by(ledger, follow.task, follow.lag)
    for other in run.lanes:
        if other != ledger.lane:
            busy = [
                s for s in ledger.times[other].segments
                if s.kind != "idle" and s.task != task.id and s.to_pet_min <= begun + _SLACK_MIN
            ]
            if busy:
                last = max(busy, key=lambda s: s.to_pet_min)
                on_its_way = last.task is not None and ledger.record.runs[last.task].task.leg is not None
                cause = _Cause("arrival", other) if on_its_way else _lane_cause(ledger, other)
                yield _Release(last.to_pet_min, cause)


def _released_by(ledger: Ledger, needed: str, lag_min: float) -> Iterator[_Release]:
    run, slot = ledger.record.runs.get(needed), ledger.projection.slots.get(needed)
    if run is None:
        return
    finish = run.finish_pet_min if run.finish_pet_min is not None else slot.finish_pet_min if slot else None
    if finish is None:
        return
    others = [lane for lane in run.lanes if lane != ledger.lane]
    if others:
        yield _Release(finish, _lane_cause(ledger, next((x for x in others if _is_arm(ledger, x)), others[0])))
    if lag_min > 0:
        yield _Release(finish + lag_min, _Cause("settling", needed))


def _lane_cause(ledger: Ledger, lane: str) -> _Cause:
    return _Cause("arm" if _is_arm(ledger, lane) else "lane", lane)


def _is_arm(ledger: Ledger, lane: str) -> bool:
    return any(one.id == lane and one.kind == "arm" for one in ledger.record.plan.lanes)


