"""The network of what remains: which work there is, in which order it is placed, and what each piece waits for.

It knows no lengths and no times to come, so it is the same at plan pace and in every draw.

- Work in hand comes first, then the first task of the plan of record whose predecessors and earlier lane-mates are placed.
- Where the order in a lane contradicts `after` or `follows`, the first task whose predecessors are placed goes out of its
  turn, so that every task is placed.
- A get-ahead is not in the network until it is begun, and neither is what can only be done after it.
- A task that is on hold for an inserted contingency waits for the contingency's tasks.
- Legs that nothing is left for are out of the plan of record (`record/legs.py`), and so not in the network.
- The close-out of a broken-off task belongs to its lanes: they are free once it is over, or once the next task has begun there.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from dashboard.core.record.lifecycle import BROKEN_OFF, DONE, IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.float_or_array import FloatOrArray
from dashboard.core.schedule.forward import Work

Links = dict[str, list[tuple[str, float]]]


@dataclass(frozen=True, kw_only=True)
class Network:
    """What remains, in order, and what waits for what.

    Parameters
    ----------
    sequence : list of str
        Remaining tasks in the order in which they are placed.
    out_of_turn : list of str
        Those that are placed before an earlier task of their lane.
    predecessors : dict of str to list of (str, float)
        What each task that is not in work waits for, with lags in minutes: remaining or finished tasks.
    successors : dict of str to list of (str, float)
        Remaining tasks that wait for each remaining task, by a link or by a lane, with lags in minutes.
    lane_free_first : dict of str to float
        PET minutes at which a lane is free before any remaining task is placed; a lane not named is free now.
    """

    sequence: list[str] = field(default_factory=list)
    out_of_turn: list[str] = field(default_factory=list)
    predecessors: Links = field(default_factory=dict)
    successors: Links = field(default_factory=dict)
    lane_free_first: dict[str, float] = field(default_factory=dict)


def now_of(record: Record) -> float:
    """PET minutes from which remaining work is placed: now, or PET zero before it.

    Parameters
    ----------
    record
        Its PET stands still at the end of the sortie.

    Returns
    -------
    float
        PET minutes, zero or more.
    """
    return max(0.0, record.pet_min)


def remaining_tasks(record: Record) -> list[str]:
    """What remains of the plan of record, in its order: nothing once the sortie has ended.

    Parameters
    ----------
    record : Record

    Returns
    -------
    list of str
        Get-aheads only once started. A task that can only be done after a get-ahead that has not started counts as one.
    """
    if record.end_pet_min is not None:
        return []
    runs = record.runs
    waiting = {t for t, r in runs.items() if r.task.get_ahead and r.state == NOT_STARTED}
    grew = bool(waiting)
    while grew:
        more = {
            t for t, r in runs.items()
            if r.state == NOT_STARTED and t not in waiting and any(needed in waiting for needed in r.task.after)
        }
        waiting |= more
        grew = bool(more)
    return [
        t for t in record.order
        if record.in_plan(t) and t not in waiting and runs[t].state in (NOT_STARTED, IN_WORK, ON_HOLD)
    ]


def network_of(record: Record) -> Network:
    """The network of what remains of a record.

    Parameters
    ----------
    record : Record

    Returns
    -------
    Network
    """
    remaining = remaining_tasks(record)
    in_work = [t for t in remaining if record.runs[t].state == IN_WORK]
    waiting = [t for t in remaining if record.runs[t].state != IN_WORK]
    counted = set(remaining)
    predecessors = {t: _predecessors(record, t, counted) for t in waiting}
    placed, out_of_turn = _in_order(record, waiting, predecessors)
    sequence = in_work + placed
    return Network(
        sequence=sequence,
        out_of_turn=out_of_turn,
        predecessors=predecessors,
        successors=_successors(record, sequence, predecessors),
        lane_free_first=_close_outs(record),
    )


def finished_pet_min(record: Record) -> dict[str, float]:
    """PET minutes at which each task that is done or broken off was over, without its close-out.

    Parameters
    ----------
    record : Record

    Returns
    -------
    dict of str to float
    """
    return {
        task_id: run.finish_pet_min for task_id, run in record.runs.items()
        if run.state in (DONE, BROKEN_OFF) and run.finish_pet_min is not None
    }


def work_to_place(
    record: Record, network: Network, held_until_pet_min: Callable[[TaskRun], FloatOrArray | None] | None = None,
    way_min: Callable[[str], FloatOrArray | None] | None = None,
) -> Iterator[Work]:
    """What remains, as the forward pass takes it.

    Parameters
    ----------
    record : Record
    network : Network
        Of the record.
    held_until_pet_min : callable, optional
        Task -> PET minutes at which a hold of its own ends; a float or an array of shape (draws,). By default no hold lasts.
    way_min : callable, optional
        Task -> minutes of the route that its lanes take to it; a float or an array of shape (draws,). None: none.

    Yields
    ------
    Work
        For each task of `network.sequence`, in order.
    """
    now = now_of(record)
    for task_id in network.sequence:
        run = record.runs[task_id]
        if run.state == IN_WORK:
            yield Work(task_id, run.lanes, begins_pet_min=now)
            continue
        yield Work(
            task_id, run.lanes, network.predecessors[task_id],
            not_before_pet_min=run.task.not_before if run.state == NOT_STARTED else None,
            held_until_pet_min=held_until_pet_min(run) if held_until_pet_min is not None else None,
            needs=run.task.needs,
            way_min=way_min(task_id) if way_min is not None else None,
        )


def _close_outs(record: Record) -> dict[str, float]:
    """Lane -> PET minutes at which a broken-off task is left safe there, unless the next one has begun."""
    lane_free: dict[str, float] = {}
    if record.end_pet_min is not None:
        return lane_free
    now = now_of(record)
    for run in record.runs.values():
        until = record.close_out_until(run)
        if until is None or until <= now:
            continue
        for lane in run.lanes:
            begun_since = any(
                r.start_pet_min is not None and r.start_pet_min >= (run.finish_pet_min or 0.0) and lane in r.lanes
                for r in record.runs.values() if r is not run
            )
            if not begun_since:
                lane_free[lane] = max(until, lane_free.get(lane, until))
    return lane_free


def _predecessors(record: Record, task_id: str, remaining: set[str]) -> list[tuple[str, float]]:
    """What must be over first, with lags: remaining or finished tasks of the plan of record."""
    run = record.runs[task_id]
    found = [(other, 0.0) for other in record.blocked_by.get(task_id, [])]
    if run.state == NOT_STARTED:
        found += [(other, 0.0) for other in run.task.after]
        found += [(follow.task, follow.lag) for follow in run.task.follows]
    return [(other, lag) for other, lag in found if other in remaining or _is_over(record, other)] if found else found


def _is_over(record: Record, task_id: str) -> bool:
    run = record.runs.get(task_id)
    return run is not None and run.state in (DONE, BROKEN_OFF)


def _in_order(record: Record, waiting: Sequence[str], predecessors: Links) -> tuple[list[str], list[str]]:
    """The order of placing, and what goes out of its turn."""
    place = {task_id: i for i, task_id in enumerate(waiting)}
    blockers = _blockers(record, waiting, predecessors)
    blocks: dict[str, list[str]] = {}
    for task_id, blocked_by in blockers.items():
        for other in blocked_by:
            blocks.setdefault(other, []).append(task_id)
    ready = [place[t] for t in waiting if not blockers[t]]
    heapq.heapify(ready)
    placed: dict[str, None] = {}
    out_of_turn: list[str] = []
    while len(placed) < len(waiting):
        if ready:
            task_id = waiting[heapq.heappop(ready)]
        else:
            task_id = _first_that_can(waiting, placed, predecessors, place)
            out_of_turn.append(task_id)
        if task_id in placed:
            continue
        placed[task_id] = None
        for other in blocks.get(task_id, []):
            blockers[other].discard(task_id)
            if not blockers[other] and other not in placed:
                heapq.heappush(ready, place[other])
    return list(placed), out_of_turn


def _blockers(record: Record, waiting: Sequence[str], predecessors: Links) -> dict[str, set[str]]:
    """Task -> tasks that are placed before it: its predecessors, and the task before it in each of its lanes."""
    known = set(waiting)
    previous: dict[str, str] = {}
    blockers: dict[str, set[str]] = {}
    for task_id in waiting:
        blockers[task_id] = {other for other, _ in predecessors[task_id] if other in known}
        for lane in record.runs[task_id].lanes:
            if lane in previous:
                blockers[task_id].add(previous[lane])
            previous[lane] = task_id
    return blockers


def _first_that_can(
    waiting: Sequence[str], placed: Mapping[str, None], predecessors: Links, place: Mapping[str, int]
) -> str:
    """The first task whose predecessors are placed; the first of all when there is none."""
    left = [t for t in waiting if t not in placed]
    return next(
        (t for t in left if all(other in placed for other, _ in predecessors[t] if other in place)), left[0]
    )


def _successors(record: Record, sequence: Sequence[str], predecessors: Links) -> Links:
    """Task -> what waits for it, by a link or as the next in a lane. All work in hand of a lane comes before the next."""
    successors: Links = {t: [] for t in sequence}
    placed: set[str] = set()
    lane_tail: dict[str, list[str]] = {}
    for task_id in sequence:
        run = record.runs[task_id]
        for other, lag in predecessors.get(task_id, ()):
            if other in placed:
                successors[other].append((task_id, lag))
        for lane in run.lanes:
            if run.state == IN_WORK:
                lane_tail.setdefault(lane, []).append(task_id)
                continue
            for tail in lane_tail.get(lane, []):
                successors[tail].append((task_id, 0.0))
            lane_tail[lane] = [task_id]
        placed.add(task_id)
    return successors
