"""Why the end lies where it does: the minutes between the briefed end and the projected one, taken apart.

The causes are switched on one after the other, and after each the crew's end is computed again by the forward pass. What a
cause adds is what the end moves by, so all of them add up to the difference. In this order:

1. the waits that the brief leaves between tasks and that nothing calls for (they count as ``waits``);
2. ``decisions``: what was deferred, cut short, let run, broken off, handed over or chosen;
3. ``work beyond the brief``: inserted and added tasks, and get-aheads that were begun;
4. ``finished work``: what tasks took, or take by now, against their lengths;
5. ``holds``, those that go on included;
6. ``waits`` again: idle time so far, and work that was done out of its turn;
7. ``pace of what remains``: the typical lengths of the draws against plan pace;
8. ``window likely missed``, for each task that will likely be in a later window than the brief has it in;
9. ``spread``: P50 of the draws against all of that.

Until step 8 each task that needs windows may start from the opening of the window that the brief has it in. So a delay that
costs a window counts as the delay, and what the window costs stands in step 8. Without draws the causes explain the end at plan
pace, and steps 7 and 9 are left out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Mapping
from dataclasses import replace
from typing import Literal, NamedTuple

import numpy as np
from pydantic import Field

from dashboard.core.base.findings import StateModel
from dashboard.core.plan.model import Plan
from dashboard.core.record.lifecycle import (
    BROKEN_OFF,
    DEFERRED,
    DONE,
    IN_WORK,
    NOT_STARTED,
    ON_HOLD,
    TaskWord,
)
from dashboard.core.record.record import Record, TaskRun, briefed_order, out_of_plan
from dashboard.core.schedule.expected import Expected
from dashboard.core.schedule.forward import LaneFree, forward
from dashboard.core.schedule.lengths import AtPlanPace, at_plan_pace, hold_mean_min
from dashboard.core.schedule.network import Network, finished_pet_min, network_of, now_of, work_to_place
from dashboard.core.schedule.plan_pace import Projection, crew_over_pet_min
from dashboard.core.schedule.windows import Windows, windows_by_kind

Cause = Literal[
    "finished work", "holds", "waits", "work beyond the brief", "decisions", "pace of what remains", "window likely missed",
    "spread",
]
_TINY_MIN = 1e-9
LEAST_SHARE = 0.05  # assumed: a window that is missed more rarely is not worth a sentence


class Because(StateModel):
    """One cause, and the minutes that it moves the end by. All of them add up to the projected end less the briefed one."""

    what: Cause
    task: str | None = Field(
        default=None, description="the task that misses its window; of finished work the one that added or saved most"
    )
    min: float = Field(description="minutes; positive makes the end later")
    window: str | None = Field(default=None, description="kind of the window that is likely missed")
    until_pet_min: float | None = Field(default=None, description="when the window that is likely missed closes")
    next_pet_min: float | None = Field(default=None, description="when the next one opens")


class MayMiss(StateModel):
    """A task that misses the window that the brief has it in in some simulated runs, but not in most of them."""

    task: str
    window: str = Field(description="kind of the window")
    until_pet_min: float = Field(description="when the window closes")
    next_pet_min: float = Field(description="when the next one opens")
    share: float = Field(description="share of the simulated runs")


def because(
    record: Record, projection: Projection, expected: Expected | None, briefed_end_pet_min: float | None
) -> list[Because]:
    """What the projected end owes to each cause.

    Parameters
    ----------
    record : Record
    projection : Projection
        Of the record, at plan pace.
    expected : Expected, optional
        Draws of the record: P50 of their end is explained. None: the end at plan pace is.
    briefed_end_pet_min : float, optional
        None: nothing is explained.

    Returns
    -------
    list of Because
        Largest first. Causes that move nothing are left out.
    """
    if briefed_end_pet_min is None or projection.end_pet_min is None:
        return []
    briefed = _briefed_openings(record.plan)
    likely = _likely_openings(record, projection, expected)
    missed = _missed(record.plan, briefed, likely)
    openings = {**likely, **{task_id: briefed[task_id] for task_id in missed}}
    found: dict[Cause, float] = {}
    zero, left = _FromZero(record, briefed), _Left.of(record, projection)
    end = briefed_end_pet_min

    def step(cause: Cause, now_end: float | None) -> None:
        nonlocal end
        if now_end is not None:
            found[cause] = found.get(cause, 0.0) + now_end - end
            end = now_end

    step("waits", zero.end(lambda run: run.task.likely_min, decided=False, beyond=False))
    step("decisions", zero.end(_decided_min, beyond=False))
    step("work beyond the brief", zero.end(_decided_min))
    step("finished work", zero.end(lambda run: _actual_min(record, run)))
    step("holds", zero.end(lambda run: _actual_min(record, run) + _held_min(record, run)))
    step("waits", left.end(openings))
    typical = _typical_lengths(expected)
    if expected is not None:
        step("holds", left.end(openings, holds=True))
        step("pace of what remains", left.end(openings, typical, holds=True))
    causes: list[Because] = []
    for task_id in sorted(missed, key=lambda name: (likely[name], name)):
        before, openings[task_id] = end, likely[task_id]
        with_it = left.end(openings, typical, holds=expected is not None)
        end = before if with_it is None else with_it
        causes.append(_window_cause(record.plan, task_id, end - before, briefed, likely))
    if expected is not None:
        step("spread", float(np.percentile(expected.end, 50)))
    else:
        step("waits", projection.end_pet_min)
    causes += [
        Because(what=cause, min=minutes, task=_most(record) if cause == "finished work" else None)
        for cause, minutes in found.items()
    ]
    return sorted((one for one in causes if abs(one.min) > _TINY_MIN), key=lambda one: -abs(one.min))


def may_miss(record: Record, expected: Expected | None) -> list[MayMiss]:
    """The windows that are missed in a share of the draws from `LEAST_SHARE` to a half; `because` names those likely missed.

    Parameters
    ----------
    record : Record
    expected : Expected, optional
        Draws of the record. None: nothing is known to be at risk.

    Returns
    -------
    list of MayMiss
        Largest share first.
    """
    if expected is None:
        return []
    windows, briefed, found = windows_by_kind(record.plan.windows), _briefed_openings(record.plan), []
    for task_id, starts in zip(expected.tasks, expected.starts, strict=True):
        run = record.runs[task_id]
        if task_id not in briefed or run.state == IN_WORK:
            continue
        start = next(task.start for task in record.plan.tasks if task.id == task_id)
        closes = min(w.to for kind in run.task.needs for w in windows[kind] if start is not None and w.from_ <= start < w.to)
        late = starts[starts >= closes]
        share = len(late) / len(starts)
        opening = _opening(windows, run.task.needs, float(np.percentile(late, 50, method="higher"))) if len(late) else None
        if opening is not None and LEAST_SHARE <= share <= 0.5:
            cause = _window_cause(record.plan, task_id, 0.0, briefed, {task_id: opening})
            found.append(MayMiss(task=task_id, window=cause.window, until_pet_min=cause.until_pet_min,
                                 next_pet_min=opening, share=share))
    return sorted(found, key=lambda one: -one.share)


# -- the brief and the sortie so far, from PET zero ----------------------------------------------------------------


class _FromZero:
    """The crew's end when all work starts as soon as it can from PET zero on, with one set of lengths after the other."""

    def __init__(self, record: Record, openings: Mapping[str, float]) -> None:
        self._record, self._openings = record, openings
        self._left: dict[Hashable, _Left] = {}
        self._ends: dict[Hashable, float | None] = {}

    def end(self, length_min: Callable[[TaskRun], float], *, decided: bool = True, beyond: bool = True) -> float | None:
        """The end with these lengths.

        `decided`: the plan of record instead of the brief. `beyond`: with the work that was not briefed.
        """
        record, runs = self._record, {}
        for task_id, run in record.runs.items():
            more = run.origin != "briefed" or run.task.get_ahead
            if more and not (beyond and (run.origin != "briefed" or run.state not in (NOT_STARTED, DEFERRED))):
                continue
            runs[task_id] = run
        order = tuple(task_id for task_id in (record.order if decided else briefed_order(record.plan)) if task_id in runs)
        chosen = record.chosen if decided else {}
        same_work = (
            tuple((task_id, *_where(run, decided)) for task_id, run in runs.items()), order, tuple(chosen.items())
        )
        lengths = {task_id: length_min(run) for task_id, run in runs.items()}
        same = (same_work, tuple(lengths.values()))
        if same not in self._ends:
            if same_work not in self._left:
                zero = replace(
                    record, runs={task_id: _from_zero(run, decided) for task_id, run in runs.items()}, order=list(order),
                    pet_min=0.0, end_pet_min=None, blocked_by={}, held_lanes={}, chosen=chosen, out_because={},
                )
                zero.out_because = out_of_plan(zero)
                self._left[same_work] = _Left.of(zero, network_of(zero))
            left = self._left[same_work]
            for task_id, minutes in lengths.items():
                left.record.runs[task_id].planned_min = minutes
            self._ends[same] = left.end(self._openings)
        return self._ends[same]


def _where(run: TaskRun, decided: bool) -> tuple[tuple[str, ...], TaskWord, bool]:
    """Lanes and state of a task at PET zero, and whether it was reinstated, by the plan of record or by the brief."""
    if not decided:
        return run.task.lanes, NOT_STARTED, False
    return run.lanes, DEFERRED if run.state == DEFERRED else NOT_STARTED, run.kept


def _from_zero(run: TaskRun, decided: bool) -> TaskRun:
    """A task before anything happened to it; a get-ahead counts as work like other work."""
    lanes, state, kept = _where(run, decided)
    task = run.task.model_copy(update={"get_ahead": False}) if run.task.get_ahead else run.task
    return TaskRun(
        task=task, origin=run.origin, lanes=lanes, state=state, kept=kept,
        length_set=run.length_set or run.state not in (NOT_STARTED, DEFERRED),
    )


def _decided_min(run: TaskRun) -> float:
    """Length by the plan of record; of work that was broken off what it took, its close-out included."""
    return run.worked_before_min + (run.task.closeout or 0.0) if run.state == BROKEN_OFF else run.planned_min


def _actual_min(record: Record, run: TaskRun) -> float:
    """What a finished task took, or what one in hand takes by now; the length of the others."""
    if run.state == DONE and run.start_pet_min is not None:
        return run.worked_before_min
    if run.state in (IN_WORK, ON_HOLD):
        return run.worked_min(record.pet_min) + run.remaining_min(record.pet_min)
    return _decided_min(run)


def _held_min(record: Record, run: TaskRun) -> float:
    """Minutes that a begun task was not in work, so far, less those in which one of its lanes worked at something else."""
    if run.start_pet_min is None or run.state in (NOT_STARTED, DEFERRED):
        return 0.0
    until = record.pet_min if run.finish_pet_min is None else run.finish_pet_min
    held = until - run.start_pet_min - run.worked_min(record.pet_min)
    if held <= _TINY_MIN:
        return 0.0
    others = sorted(
        span for other in record.runs.values() if other is not run and set(other.lanes) & set(run.lanes)
        for span in (*other.spans, *_open_span(record, other))
    )
    own, reached = (*run.spans, *_open_span(record, run)), run.start_pet_min
    for begin, end in others:
        begin, end = max(begin, reached), min(end, until)
        if end > begin:
            held -= (end - begin) - sum(max(0.0, min(end, last) - max(begin, first)) for first, last in own)
            reached = end
    return max(0.0, held)


def _open_span(record: Record, run: TaskRun) -> list[tuple[float, float]]:
    """The stretch of work that goes on now."""
    since = run.working_since_pet_min
    return [] if since is None else [(since, max(since, record.pet_min))]


def _most(record: Record) -> str | None:
    """The crew's task that took most beyond its length, or saved most."""
    crew = set(record.plan.crew_lane_ids())
    off = {
        task_id: abs(_actual_min(record, run) - _decided_min(run)) for task_id, run in record.runs.items()
        if crew & set(run.lanes) and run.state not in (NOT_STARTED, DEFERRED)
    }
    most = max(off, key=lambda task_id: off[task_id], default=None)
    return most if most is not None and off[most] > _TINY_MIN else None


# -- what remains, from now on -------------------------------------------------------------------------------------


class _Left(NamedTuple):
    """What remains of a record, its network, and how long it takes at plan pace."""

    record: Record
    network: Network
    at_plan_pace: AtPlanPace

    @classmethod
    def of(cls, record: Record, network: Network) -> _Left:
        return cls(record, network, at_plan_pace(record))

    def end(
        self, openings: Mapping[str, float], lengths: Mapping[str, float] | None = None, *, holds: bool = False
    ) -> float | None:
        """The crew's end when tasks that need windows start at these openings at the earliest, and no window else holds them."""
        record, network, (length_min, way_min) = self
        crew, now = set(record.plan.crew_lane_ids()), now_of(record)
        lane_free: LaneFree = dict(network.lane_free_first)
        if holds:
            for lane in record.held_lanes:
                left = math.log(2) * hold_mean_min(now - record.held_since.get(lane, now))
                lane_free[lane] = max(float(lane_free.get(lane, now)), now + left)

        def held_until(run: TaskRun) -> float | None:
            if not holds or run.state != ON_HOLD or run.held_by != "task" or record.blocked_by.get(run.task.id):
                return None
            return now + math.log(2) * hold_mean_min(now - (run.held_since_pet_min or now))

        works = (
            work._replace(needs=(), not_before_pet_min=max(work.not_before_pet_min or 0.0, openings.get(work.task, 0.0)))
            for work in work_to_place(record, network, held_until, way_min)
        )
        ends = [
            float(placed.finish_pet_min)
            for placed in forward(
                works, length_min if lengths is None else lengths.__getitem__, now_pet_min=now, lane_free_pet_min=lane_free,
                finished_pet_min=finished_pet_min(record), windows={},
            )
            if crew & set(placed.work.lanes)
        ]
        over = crew_over_pet_min(record)
        return max(ends if over is None else [*ends, over], default=None)


def _typical_lengths(expected: Expected | None) -> dict[str, float] | None:
    if expected is None:
        return None
    rows = zip(expected.tasks, expected.starts, expected.finishes, strict=True)
    return {task_id: float(np.median(finish - start)) for task_id, start, finish in rows}


# -- windows -------------------------------------------------------------------------------------------------------


def _opening(windows: Windows, needs: tuple[str, ...], start_pet_min: float) -> float | None:
    """When the windows open that a start lies in; None when it lies in none of some kind."""
    opens = []
    for kind in needs:
        holding = [w.from_ for w in windows.get(kind, ()) if w.from_ - _TINY_MIN <= start_pet_min < w.to]
        if not holding:
            return None
        opens.append(holding[-1])
    return max(opens, default=None)


def _briefed_openings(plan: Plan) -> dict[str, float]:
    """Task -> opening of the windows that the brief has it in."""
    windows = windows_by_kind(plan.windows)
    found = {t.id: _opening(windows, t.needs, t.start) for t in plan.tasks if t.needs and t.start is not None}
    return {task_id: opening for task_id, opening in found.items() if opening is not None}


def _likely_openings(record: Record, projection: Projection, expected: Expected | None) -> dict[str, float]:
    """Remaining task -> opening of the windows that it is likely in: those of its middle start over the draws."""
    windows = windows_by_kind(record.plan.windows)
    starts = {task_id: slot.start_pet_min for task_id, slot in projection.slots.items()}
    if expected is not None:
        starts = {
            task_id: float(np.percentile(row, 50, method="higher"))
            for task_id, row in zip(expected.tasks, expected.starts, strict=True) if record.runs[task_id].task.needs
        }
    found = {}
    for task_id, start in starts.items():
        run = record.runs[task_id]
        if run.task.needs and run.state != IN_WORK:
            opening = _opening(windows, run.task.needs, start)
            if opening is not None:
                found[task_id] = opening
    return found


def _missed(plan: Plan, briefed: Mapping[str, float], likely: Mapping[str, float]) -> list[str]:
    return [task_id for task_id, opening in likely.items() if task_id in briefed and opening > briefed[task_id] + _TINY_MIN]


def _window_cause(
    plan: Plan, task_id: str, minutes: float, briefed: Mapping[str, float], likely: Mapping[str, float]
) -> Because:
    """Which window it is: of the kind that opens last, the window before the one that the task is likely in."""
    windows = windows_by_kind(plan.windows)
    task = next(task for task in plan.tasks if task.id == task_id)
    kind = next(k for k in task.needs if any(w.from_ == likely[task_id] for w in windows.get(k, ())))
    before = [w.to for w in windows[kind] if w.to <= likely[task_id] + _TINY_MIN]
    return Because(
        what="window likely missed", task=task_id, min=minutes, window=kind,
        until_pet_min=before[-1] if before else briefed[task_id], next_pet_min=likely[task_id],
    )
