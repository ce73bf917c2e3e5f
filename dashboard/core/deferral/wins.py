"""What each part of a change wins, and when its task would begin, with all of the change but this part."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np

from dashboard.core.deferral.change import closed, with_change
from dashboard.core.deferral.when_to_decide import Times, part_of
from dashboard.core.events.change import Change, Part
from dashboard.core.record.lifecycle import NOT_STARTED
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import DRAWS, expect
from dashboard.core.schedule.plan_pace import project

PartName = tuple[str, str]
"""Kind of a part, and the task or alternative that it names."""


class Win(NamedTuple):
    """One part of a change against the same change without it.

    Parameters
    ----------
    minutes : float or None
        By how much the end would be later without this part; None: it goes along with another part and cannot stay alone.
    closes_pet_min : float or None
        When its task would begin if the rest of the change were given up, or when a lane of it goes on to what follows without
        it, whichever is earlier; None: it has begun, or the part names no task.
    along_with : PartName or None
        The part that it goes along with; None: it goes by itself.
    """

    minutes: float | None
    closes_pet_min: float | None = None
    along_with: PartName | None = None


NO_WIN = Win(None)
"""Nothing is worked out of the part."""


def wins_of(
    record: Record, change: Change, *, draws: int = DRAWS, stop: Callable[[], bool] = lambda: False
) -> Mapping[PartName, Win]:
    """What each part of a change wins.

    Parts help each other, so the minutes do not add up to what the whole change wins.

    Parameters
    ----------
    record : Record
        Without the change.
    change : Change
        With every task that goes along.
    draws : int
        0: the ends at plan pace are compared, else their medians.
    stop : callable
        Asked before each part; once it says so, the rest is left out.

    Returns
    -------
    mapping
        By part; empty for a change with a new order.
    """
    if change.order:
        return {}
    whole, with_all = _with(record, change, draws)
    follows = _follows(record, change)
    wins: dict[PartName, Win] = {}
    for part in change.parts():
        if stop():
            break
        lead, along = _leads(record, change, part)
        rest = closed(record, part_of(change, [one for one in change.parts() if one not in along]))
        if lead != part or part in rest.parts():
            wins[part.kind, part.name] = Win(None, along_with=None if lead == part else (lead.kind, lead.name))
            continue
        end, times = _with(record, rest, draws)
        closes = None
        if part.name in record.runs and record.runs[part.name].state == NOT_STARTED:
            known = [times.start(part.name), *(with_all.start(after) for after in follows.get(part.name, ()))]
            closes = min((one for one in known if one is not None), default=None)
        wins[part.kind, part.name] = Win(end - whole, closes)
    return wins


def _follows(record: Record, change: Change) -> dict[str, list[str]]:
    """For each task that a change defers: in each of its lanes the first task after it that stays."""
    gone, order = set(change.defer), project(record).sequence
    found: dict[str, list[str]] = {}
    for task_id in gone & set(order):
        later = [t for t in order[order.index(task_id) + 1 :] if t not in gone]
        in_lanes = (next((t for t in later if lane in record.runs[t].lanes), None) for lane in record.runs[task_id].lanes)
        found[task_id] = [t for t in in_lanes if t is not None]
    return found


def _leads(record: Record, change: Change, part: Part) -> tuple[Part, list[Part]]:
    """The part that a part goes along with, and the parts that can only go together with that one.

    A leg and the work at its end take each other along: then the work leads. A part that goes by itself leads itself.
    """
    def takes(one: Part) -> list[Part]:
        return closed(record, part_of(change, [one])).parts()

    taking = [one for one in change.parts() if one == part or part in takes(one)]
    together = [one for one in taking if one == part or one in takes(part)]
    if len(together) < len(taking):
        return next(one for one in taking if one not in together), []
    works = (one for one in together if one.name in record.runs and record.runs[one.name].task.leg is None)
    return next(works, together[0]), together


def _with(record: Record, change: Change, draws: int) -> tuple[float, Times]:
    """End and projected times with a change."""
    changed = with_change(record, change)
    projection = project(changed)
    expected = expect(changed, projection, draws=draws) if draws else None
    end = projection.end_pet_min or 0.0 if expected is None else float(np.percentile(expected.end, 50))
    return end, Times(projection, expected)
