"""What each part of a change wins: by how many minutes the end would be later with all of the change but this part."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from dashboard.core.deferral.change import closed, with_change
from dashboard.core.deferral.when_to_decide import part_of
from dashboard.core.events.change import Change
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import DRAWS, expect
from dashboard.core.schedule.plan_pace import project

PartName = tuple[str, str]
"""Kind of a part, and the task or alternative that it names."""


def wins_of(
    record: Record, change: Change, *, draws: int = DRAWS, stop: Callable[[], bool] = lambda: False
) -> Mapping[PartName, float]:
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
        Minutes; a part that goes along with another one is left out, since it cannot stay alone. A change with a new order has
        none.
    """
    if change.order:
        return {}
    whole = _end(record, change, draws)
    wins: dict[PartName, float] = {}
    for part in change.parts():
        if stop():
            break
        rest = closed(record, part_of(change, [one for one in change.parts() if one != part]))
        if part not in rest.parts():
            wins[part.kind, part.name] = _end(record, rest, draws) - whole
    return wins


def _end(record: Record, change: Change, draws: int) -> float:
    changed = with_change(record, change)
    projection = project(changed)
    expected = expect(changed, projection, draws=draws) if draws else None
    return projection.end_pet_min or 0.0 if expected is None else float(np.percentile(expected.end, 50))
