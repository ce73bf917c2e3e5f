"""What holds a task back.

Of several things that hold it to the same time, one is named: now rather than a task, a task rather than a lane, a lane
rather than its `not_before`. A window is named when it holds the task beyond all of these.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from dashboard.core.base.findings import StateModel
from dashboard.core.schedule.forward import Placed
from dashboard.core.schedule.windows import TINY_MIN, Windows


class Waits(StateModel):
    """What holds a task back, and until when."""

    kind: Literal["task", "lane", "not before", "window", "now", "hold"]
    name: str | None = Field(default=None, description="the task, lane or kind of window waited for")
    until_pet_min: float | None = None


def what_holds(placed: Placed, windows: Windows) -> Waits:
    """What holds a task back that was placed with single numbers.

    Parameters
    ----------
    placed : Placed
        Of a forward pass over floats.
    windows : mapping of str to sequence of Window
        Those of that pass.

    Returns
    -------
    Waits
        Of kind ``now`` for work in hand.
    """
    ready, start = placed.ready_pet_min, placed.start_pet_min
    if start > ready + TINY_MIN:
        kinds = [k for k in placed.work.needs if any(w.from_ == start for w in windows.get(k, ()))]
        return Waits(kind="window", name=kinds[0], until_pet_min=float(start))
    held = next(bound for bound in placed.bounds if bound.pet_min >= ready - TINY_MIN)
    if held.kind == "begun" or held.kind == "now":
        return Waits(kind="now")
    return Waits(kind=held.kind, name=held.name, until_pet_min=float(held.pet_min))
