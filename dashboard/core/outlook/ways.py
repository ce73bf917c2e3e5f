"""The ways between worksites: each lane has a leg, or a route and the time for it, to where its next work is.

A plan without legs holds the ways in its tasks (`core/record/legs.py`). Then they cannot be checked, and a note says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from dashboard.core.base.minutes import length
from dashboard.core.outlook.briefed import Briefed, found, named, pet
from dashboard.core.plan.fields import Finding
from dashboard.core.plan.model import Duration, Task
from dashboard.core.record.legs import home_of

TINY_MIN = 1e-6


def check_ways(briefed: Briefed) -> Iterator[Finding]:
    """The way to the place of each briefed task, for each of its lanes.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Yields
    ------
    Finding
        A caution where no leg and no route takes a lane to its work, where the time for a route is too short, and where a leg
        is shorter than the route says; an error where the only leg is a get-ahead.
    """
    plan = briefed.plan
    sites = {task.worksite for task in briefed.ordinary if task.worksite is not None}
    if not any(task.leg is not None for task in plan.tasks):
        if len(sites) > 1:
            yield found(
                "ways-not-given", "note", ("task", 0), "the ways between worksites", "legs (tasks with 'leg') between them",
                f"{len(sites)} worksites and no leg", "Brief the longer ways as tasks with 'leg', and give each [[route]].",
            )
        return
    routes = {frozenset((route.from_, route.to)): route.duration for route in plan.routes}
    with_start = (task for task in briefed.ordinary if task.start is not None)
    in_order = sorted(with_start, key=lambda task: (task.start or 0.0, briefed.places[task.id]))
    at: dict[str, _Stay] = {lane: _Stay(home_of(plan), 0.0) for lane in plan.lane_ids()}
    told: set[tuple[str, str]] = set()
    for task in in_order:
        for lane in task.lanes:
            if lane not in at:
                continue
            one = _judged(briefed, task, lane, at[lane], routes)
            if one is not None and (task.id, one.problem.code) not in told:
                told.add((task.id, one.problem.code))
                yield one
            at[lane] = _Stay(task.leg or task.worksite or at[lane].site, (task.start or 0.0) + task.likely_min)


class _Stay(NamedTuple):
    """Where a lane is, and until when it is at work there, PET minutes."""

    site: str | None
    over_pet_min: float


def _judged(
    briefed: Briefed, task: Task, lane: str, before: _Stay, routes: Mapping[frozenset[str], Duration]
) -> Finding | None:
    to = task.leg or task.worksite
    if to is None or before.site is None or to == before.site:
        return None
    route = routes.get(frozenset((before.site, to)))
    way = f"from {before.site} to {to}"
    if task.leg is not None:
        if route is None or task.duration.likely >= route.low - TINY_MIN:
            return None
        return found(
            "leg-too-short", "caution", briefed.place(task.id, "duration"), named(task),
            f"at least {length(route.low)}, the shortest time of the route {way}", length(task.duration.likely),
            "Correct the leg or the route.",
        )
    start = task.start or 0.0
    if route is None:
        leg = _get_ahead_leg(briefed, lane, to)
        return found(
            "no-way", "error" if leg else "caution", briefed.place(task.id, "worksite"), named(task),
            f"a leg or a route that takes {lane} {way}", f"none{leg}",
            "Make the leg an ordinary task, or the work a get-ahead." if leg
            else "Brief a task with 'leg' before it, or give the [[route]].",
        )
    gap = start - before.over_pet_min
    if gap >= route.likely - TINY_MIN:
        return None
    return found(
        "way-too-short", "caution", briefed.place(task.id, "start"), named(task),
        f"{length(route.likely)} for {lane} {way}, by the route", f"{length(max(0.0, gap))}, from {pet(before.over_pet_min)}",
        "Brief a leg, or start it later.",
    )


def _get_ahead_leg(briefed: Briefed, lane: str, to: str) -> str:
    """Says that the only legs there are get-aheads; empty when there are none."""
    legs = [task.id for task in briefed.plan.tasks if task.get_ahead and task.leg == to and lane in task.lanes]
    return f" but {legs[0]}, a get-ahead, which is done only with time in hand" if legs else ""
