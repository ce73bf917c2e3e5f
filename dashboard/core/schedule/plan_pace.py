"""The projection at plan pace: when everything that remains starts and ends, its float, and what sets the end.

The forward pass (`forward.py`) along the order of the plan of record, then a backward pass over the same links: the
critical path method, J. E. Kelley, "Critical-path planning and scheduling", Operations Research 9:296 (1961) (reference
from memory), with lanes as links and windows as calendars.

The end of the sortie is the latest finish over the crew lanes. So a task that no crew task waits for (the arm parking) has
no float and no latest start: however late it is, the end does not move.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from dashboard.core.record.lifecycle import IN_WORK
from dashboard.core.record.record import Record
from dashboard.core.schedule.forward import forward
from dashboard.core.schedule.lengths import at_plan_pace
from dashboard.core.schedule.network import Network, finished_pet_min, network_of, now_of, work_to_place
from dashboard.core.schedule.waits import Waits, what_holds
from dashboard.core.schedule.windows import kinds_missed, latest_in_windows, windows_by_kind


@dataclass
class Slot:
    """Where a remaining task lies in the projection. PET minutes.

    Parameters
    ----------
    start_pet_min, finish_pet_min : float
    waits : Waits
        What sets its start.
    after_task : str, optional
        The remaining task that sets its start; None: something else does.
    window_missed : list of str
        Kinds of windows that it needs and that do not hold it.
    float_min : float, optional
        How far it can slip without moving the end; None: no crew task waits for it.
    latest_start_pet_min : float, optional
        Latest start that still meets the limit, see `write_latest_starts`; None: as for the float.
    way_min : float
        Minutes of the route that its lanes take to it; 0: a leg takes them there, or the brief holds the way.
    """

    start_pet_min: float
    finish_pet_min: float
    waits: Waits
    after_task: str | None = None
    window_missed: list[str] = field(default_factory=list)
    float_min: float | None = None
    latest_start_pet_min: float | None = None
    way_min: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Projection(Network):
    """All remaining tasks placed, and the end of the sortie; with the network that they were placed by.

    Parameters
    ----------
    slots : dict of str to Slot
    end_pet_min : float or None
        None when no crew task is done or remains.
    chain : list of str
        Remaining tasks that set the end, each beginning when the one before it lets it.
    """

    slots: dict[str, Slot]
    end_pet_min: float | None
    chain: list[str]


def project(record: Record) -> Projection:
    """Project the sortie at plan pace, with total float.

    Parameters
    ----------
    record : Record

    Returns
    -------
    Projection
        Latest starts need a limit and are left open: see `write_latest_starts`.
    """
    network = network_of(record)
    slots = _slots(record, network)
    end, last = _end(record, slots)
    projection = Projection(
        slots=slots, end_pet_min=end, chain=_chain(slots, last), sequence=network.sequence, out_of_turn=network.out_of_turn,
        predecessors=network.predecessors, successors=network.successors, lane_free_first=network.lane_free_first,
    )
    if end is not None:
        for task_id, latest in latest_starts(record, projection, end).items():
            if math.isfinite(latest):
                slots[task_id].float_min = max(0.0, latest - slots[task_id].start_pet_min)
    return projection


def write_latest_starts(record: Record, projection: Projection, limit_pet_min: float) -> None:
    """Fill in the latest start of each remaining task that still meets the limit.

    Parameters
    ----------
    record : Record
    projection : Projection
        Of the record. Its slots are changed.
    limit_pet_min : float
    """
    for task_id, latest in latest_starts(record, projection, limit_pet_min).items():
        if not math.isfinite(latest):
            continue
        slot, run = projection.slots[task_id], record.runs[task_id]
        begun = run.start_pet_min if run.state == IN_WORK else None
        slot.latest_start_pet_min = latest if begun is None else begun + (latest - slot.start_pet_min)


def latest_starts(record: Record, projection: Projection, goal_pet_min: float) -> dict[str, float]:
    """Latest start of each remaining task with which the crew is in by a goal: the backward pass.

    Parameters
    ----------
    record : Record
    projection : Projection
        Of the record.
    goal_pet_min : float

    Returns
    -------
    dict of str to float
        Task -> PET minutes. Infinite for a task that no crew task waits for.
    """
    windows = windows_by_kind(record.plan.windows)
    crew = set(record.plan.crew_lane_ids())
    latest: dict[str, float] = {}
    for task_id in reversed(projection.sequence):
        slot, run = projection.slots[task_id], record.runs[task_id]
        length = slot.finish_pet_min - slot.start_pet_min
        by = goal_pet_min if crew & set(run.lanes) else math.inf
        for other, lag in projection.successors[task_id]:
            way = projection.slots[other].way_min if set(run.lanes) & set(record.runs[other].lanes) else 0.0
            by = min(by, latest[other] - max(lag, way))
        start = by - length
        if math.isfinite(start) and run.task.needs and run.state != IN_WORK and not slot.window_missed:
            start = latest_in_windows(windows, run.task.needs, start, length)
        latest[task_id] = start
    return latest


def _slots(record: Record, network: Network) -> dict[str, Slot]:
    """The forward pass with the lengths at plan pace."""
    windows = windows_by_kind(record.plan.windows)
    lengths, ways = at_plan_pace(record)
    slots: dict[str, Slot] = {}
    last_in_lane: dict[tuple[str, float], str] = {}
    for placed in forward(
        work_to_place(record, network, way_min=ways), lengths, now_pet_min=now_of(record),
        lane_free_pet_min=dict(network.lane_free_first), finished_pet_min=finished_pet_min(record), windows=windows,
    ):
        work, start, finish = placed.work, float(placed.start_pet_min), float(placed.finish_pet_min)
        waits = what_holds(placed, windows)
        way = float(work.way_min or 0.0)
        slots[work.task] = Slot(start, finish, waits, _after_task(waits, way, last_in_lane, slots), way_min=way)
        if placed.window_missed:
            slots[work.task].window_missed = kinds_missed(windows, work.needs, start, lengths(work.task))
        for lane in work.lanes:
            last_in_lane[lane, finish] = work.task
    return slots


def _after_task(
    waits: Waits, way_min: float, last_in_lane: Mapping[tuple[str, float], str], slots: Mapping[str, Slot]
) -> str | None:
    """The remaining task that a wait ends with; None: it ends with something else."""
    if waits.kind == "lane" and waits.name is not None and waits.until_pet_min is not None:
        return last_in_lane.get((waits.name, waits.until_pet_min - way_min if way_min else waits.until_pet_min))
    return waits.name if waits.kind == "task" and waits.name in slots else None


def crew_over_pet_min(record: Record) -> float | None:
    """Latest PET at which a task of the crew was over, close-outs included.

    Parameters
    ----------
    record
        Once it has ended, work that was still going on counts until then.

    Returns
    -------
    float or None
        PET minutes; None when no task of the crew is over.
    """
    crew, found = set(record.plan.crew_lane_ids()), list[float]()
    for run in record.runs.values():
        over = record.end_pet_min if run.state == IN_WORK else record.over_at(run)
        if crew & set(run.lanes) and over is not None:
            found.append(over)
    return max(found, default=None)


def _end(record: Record, slots: Mapping[str, Slot]) -> tuple[float | None, str | None]:
    """Latest finish over the crew lanes, and the remaining task that sets it (None: it lies in the past)."""
    crew = set(record.plan.crew_lane_ids())
    end, last = crew_over_pet_min(record), None
    for task_id, slot in slots.items():
        if crew & set(record.runs[task_id].lanes) and (end is None or slot.finish_pet_min >= end):
            end, last = slot.finish_pet_min, task_id
    return end, last


def _chain(slots: Mapping[str, Slot], last: str | None) -> list[str]:
    """The tasks that set the start of one another, up to the last one."""
    chain: list[str] = []
    while last is not None and last not in chain:
        chain.append(last)
        last = slots[last].after_task
    return chain[::-1]
