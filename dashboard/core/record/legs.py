"""Legs: where each lane is, which legs go with the work at their end, and what a leg takes that starts from elsewhere.

Rules:

- A lane is at the worksite of its last begun task; on a leg it is between the two, and stays there when the leg is broken off.
  Before anything is begun it is at the airlock, when exactly one worksite of the plan has no way back.
- The work at the end of a leg is what the brief has there for its lanes before their next leg. A task without a worksite
  counts, since it is done where its lane is. A get-ahead counts once it is begun.
- A leg goes when there was such work and none of it is left. A leg to where all its lanes are already goes too. A leg that
  is begun, that is required, that the room reinstated, or that is a get-ahead stays.
- A leg that starts from elsewhere than briefed takes as long as the route. Where the plan has no route, it takes the longest
  of itself and of the legs that went before it.
- Work stays only if something takes its lanes to it. Where its own leg was given up and the lanes are elsewhere, a route must
  join the two places; the way along it then comes before the work. Else the work goes too.

A plan without legs is not changed by any of this: its tasks hold the ways between them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from dashboard.core.plan.model import Duration, Plan, Task
from dashboard.core.record.lifecycle import BROKEN_OFF, DONE, IN_WORK, NOT_STARTED, ON_HOLD

if TYPE_CHECKING:
    from dashboard.core.record.record import Record, TaskRun

_BEGUN = (IN_WORK, ON_HOLD, DONE, BROKEN_OFF)


class Whereabouts(NamedTuple):
    """Where a lane is: at `worksite` (None: not known), or on the leg `on_leg` from there to `towards`."""

    worksite: str | None
    towards: str | None = None
    on_leg: str | None = None

    def after(self, task: Task, arrived: bool) -> Whereabouts:
        """Where the lane is once its next task is begun.

        Parameters
        ----------
        task
            The task.
        arrived
            Whether the lane is at its end, if it is a leg.

        Returns
        -------
        Whereabouts
            The same for a task that has no worksite.
        """
        if task.leg is None:
            return self if task.worksite is None else Whereabouts(task.worksite)
        return Whereabouts(task.leg) if arrived else Whereabouts(self.worksite, task.leg, task.id)


@dataclass
class Ways:
    """How the lanes get to what remains.

    Parameters
    ----------
    durations : dict of str to Duration
        Leg that starts from elsewhere than briefed -> how long it takes; zero for a leg to where its lanes are.
    to_work : dict of str to Duration
        Task whose own leg was given up -> the route that its lanes take to it.
    """

    durations: dict[str, Duration] = field(default_factory=dict)
    to_work: dict[str, Duration] = field(default_factory=dict)


def whereabouts_of(record: Record, lane: str) -> Whereabouts:
    """Where a lane is now.

    Parameters
    ----------
    record
        Only tasks that are begun are read.
    lane
        A lane of the plan.

    Returns
    -------
    Whereabouts
        With `on_leg` also while the leg is on hold, and once it is broken off.
    """
    return _whereabouts(record)[lane]


def _whereabouts(record: Record) -> dict[str, Whereabouts]:
    """Where each lane is now."""
    found = dict.fromkeys(record.plan.lane_ids(), Whereabouts(home_of(record.plan)))
    begun = [run for run in record.runs.values() if run.state in _BEGUN]
    for run in sorted(begun, key=lambda run: begun_pet_min(run, record)):
        for lane in run.lanes:
            found[lane] = found[lane].after(run.task, run.state == DONE)
    return found


def begun_pet_min(run: TaskRun, record: Record) -> float:
    """When a begun task was begun.

    Parameters
    ----------
    run
        Begun, or over.
    record
        Its record.

    Returns
    -------
    float
        PET minutes. When the start was not logged, those of the finish; when that was not logged either, those of now.
    """
    at = run.start_pet_min if run.start_pet_min is not None else run.finish_pet_min
    return at if at is not None else max(0.0, record.pet_min)


def home_of(plan: Plan) -> str | None:
    """The worksite that is the airlock.

    Parameters
    ----------
    plan
        Its worksites are read.

    Returns
    -------
    str or None
        None unless exactly one worksite has no way back.
    """
    at_home = [site.id for site in plan.worksites if site.return_min == 0]
    return at_home[0] if len(at_home) == 1 else None


def legs_that_go(record: Record, out: Collection[str]) -> dict[str, str]:
    """Legs that nothing is left for.

    Parameters
    ----------
    record
        `Record.out_because` is not read.
    out
        Tasks that are out of the plan of record, or that are to be given up.

    Returns
    -------
    dict of str to str
        Leg that is not in `out` -> why it goes, in words.
    """
    gone: dict[str, str] = {}
    segments = work_at_end(record)
    may_go = [leg for leg in segments if leg not in out and _may_go(record.runs[leg])]
    for leg in may_go:
        at_end = [record.runs[task_id] for task_id in segments[leg]]
        if at_end and not any(_is_left(run, out) for run in at_end):
            gone[leg] = f"nothing is left to do at {record.runs[leg].task.leg}"
    origins = _origins(record, {*out, *gone}) if may_go else {}
    for leg in may_go:
        end = record.runs[leg].task.leg
        if leg not in gone and set(origins[leg].values()) == {end} != _briefed_origins(record, leg):
            gone[leg] = f"{' and '.join(record.runs[leg].lanes)} would be at {end} already"
    return gone


def work_without_way(record: Record, out: Collection[str]) -> dict[str, str]:
    """Work that no leg and no route takes its lanes to, of those whose own leg is out.

    Parameters
    ----------
    record
        `Record.out_because` is not read.
    out
        Tasks that are out of the plan of record, or that are to be given up; with the legs among them.

    Returns
    -------
    dict of str to str
        Task that has not begun and is not in `out` -> why it goes, in words. More work may go once these are in `out`.
    """
    return {
        task_id: f"no way to {record.runs[task_id].task.worksite} without {leg}"
        for task_id, leg, route in _off_their_legs(record, out, work_at_end(record)) if route is None
    }


def ways_of(record: Record, out: Collection[str]) -> Ways:
    """How the lanes get to what remains, where that is not as briefed.

    Parameters
    ----------
    record
        `Record.out_because` is not read.
    out
        Everything that is out of the plan of record, legs that go included.

    Returns
    -------
    Ways
        Empty for a plan without legs.
    """
    ways = Ways()
    segments = work_at_end(record)
    origins = _origins(record, out) if segments else {}
    for leg in segments:
        run = record.runs[leg]
        if leg not in origins or run.length_set or set(origins[leg].values()) == _briefed_origins(record, leg):
            continue
        lengths = [_leg_from(record, leg, lane, origin, out) for lane, origin in origins[leg].items()]
        ways.durations[leg] = max(lengths, key=_likely)
    for task_id, _, route in _off_their_legs(record, out, segments):
        if route is not None:
            ways.to_work[task_id] = max((route, ways.to_work.get(task_id, route)), key=_likely)
    return ways


def _may_go(run: TaskRun) -> bool:
    return run.state == NOT_STARTED and not run.task.required and not run.kept and not run.task.get_ahead


def _is_left(run: TaskRun, out: Collection[str]) -> bool:
    """Whether a task remains to be done; a get-ahead counts once it is begun."""
    if run.task.id in out:
        return False
    return run.state in (IN_WORK, ON_HOLD) or (run.state == NOT_STARTED and not run.task.get_ahead)


def work_at_end(record: Record) -> dict[str, list[str]]:
    """What lies at the end of each leg for its lanes before their next leg, in the lanes of the brief and in those of now.

    Parameters
    ----------
    record
        Its order of work counts.

    Returns
    -------
    dict of str to list of str
        Leg -> tasks in order, those that are out of the plan of record among them, and no get-ahead that has not begun.
    """
    found: dict[str, list[str]] = {t: [] for t in record.order if record.runs[t].task.leg is not None}
    if not found:
        return found
    last: dict[str, str] = {}
    for task_id in record.order:
        run = record.runs[task_id]
        task = run.task
        lanes = task.lanes if run.lanes == task.lanes else dict.fromkeys((*run.lanes, *task.lanes))
        if task.leg is not None:
            last.update(dict.fromkeys(lanes, task_id))
        elif not (task.get_ahead and run.state == NOT_STARTED):
            for leg in dict.fromkeys(last[lane] for lane in lanes if lane in last):
                if task.worksite is None or task.worksite == record.runs[leg].task.leg:
                    found[leg].append(task_id)
    return found


def _origins(record: Record, out: Collection[str]) -> dict[str, dict[str, str | None]]:
    """Task that has not begun and stays -> lane -> where the lane is before it."""
    at: dict[str, str | None] = {}
    for lane, here in _whereabouts(record).items():
        broken_off = here.on_leg is not None and record.runs[here.on_leg].is_over
        at[lane] = None if broken_off else here.towards or here.worksite
    origins: dict[str, dict[str, str | None]] = {}
    for task_id in record.order:
        run = record.runs[task_id]
        if run.state != NOT_STARTED or not _is_left(run, out):
            continue
        origins[task_id] = {lane: at[lane] for lane in run.lanes}
        site = run.task.leg or run.task.worksite
        if site is not None:
            at.update(dict.fromkeys(run.lanes, site))
    return origins


def _briefed_origins(record: Record, leg: str) -> set[str | None]:
    """Where the brief has the lanes of a leg before it."""
    found: set[str | None] = set()
    before = [record.runs[t].task for t in record.order[: record.order.index(leg)]]
    for lane in record.runs[leg].lanes:
        last = next((t for t in reversed(before) if (t.leg or t.worksite) and lane in t.lanes and not t.get_ahead), None)
        found.add(home_of(record.plan) if last is None else last.leg or last.worksite)
    return found


def _off_their_legs(
    record: Record, out: Collection[str], segments: Mapping[str, list[str]]
) -> Iterator[tuple[str, str, Duration | None]]:
    """Work whose own leg is out, with that leg and the route to it: for each lane that is elsewhere before it.

    `segments`: the work at the end of each leg.
    """
    without = {leg: at_end for leg, at_end in segments.items() if leg in out}
    origins = _origins(record, {*out, *legs_that_go(record, out)}) if without else {}
    for leg, at_end in without.items():
        for task_id in at_end:
            run = record.runs[task_id]
            if run.task.worksite is None or run.kept or task_id not in origins:
                continue
            for lane, origin in origins[task_id].items():
                if lane in record.runs[leg].lanes and origin != run.task.worksite:
                    yield task_id, leg, _route(record.plan, origin, run.task.worksite)


def _leg_from(record: Record, leg: str, lane: str, origin: str | None, out: Collection[str]) -> Duration:
    """How long a leg takes one of its lanes from where it is."""
    task = record.runs[leg].task
    if origin == task.leg:
        return _NOTHING
    route = _route(record.plan, origin, task.leg)
    if route is not None:
        return route
    longest = task.duration
    for task_id in reversed(record.order[: record.order.index(leg)]):
        other = record.runs[task_id]
        if other.task.leg is None or lane not in other.lanes:
            continue
        if task_id not in out:
            break
        longest = max(longest, other.task.duration, key=_likely)
    return longest


def _route(plan: Plan, origin: str | None, end: str | None) -> Duration | None:
    """The route between two worksites, either way; None: the plan has none."""
    return next((route.duration for route in plan.routes if {route.from_, route.to} == {origin, end}), None)


def _likely(duration: Duration) -> float:
    return duration.likely


_NOTHING = Duration(low=0.0, likely=0.0, high=0.0, exact=True)
