"""The rail: the whole briefed plan at a fixed scale, with a line at now.

`rail_payload` is a plain dict of boxes; ``assets/board/rail.js`` draws them. x counts columns, y is PET minutes.
"""

from __future__ import annotations

from typing import Any

from dashboard.core.plan.model import Plan
from dashboard.core.record.lifecycle import BROKEN_OFF, DEFERRED, DONE, IN_WORK, ON_HOLD
from dashboard.core.state.model import SortieState
from dashboard.figures.columns import column_order, runs

AFTER_MIN = 10.0
_LOOKS = {DONE: "done", BROKEN_OFF: "done", IN_WORK: "work", ON_HOLD: "hold", DEFERRED: "out"}


def rail_payload(plan: Plan, state: SortieState) -> dict[str, Any]:
    """The boxes of the briefed plan with a look for the state of each task, and the lines of now and the limit.

    Parameters
    ----------
    plan : Plan
        As briefed.
    state : SortieState

    Returns
    -------
    dict
        ``columns`` (their number), ``top`` and ``bottom`` (PET minutes; constant for a plan), ``boxes`` (``x``, ``width``,
        ``y``, ``height``, ``look``), ``now`` and ``limit`` (PET minutes).
    """
    place = {lane: at for at, lane in enumerate(column_order(plan))}
    boxes = []
    for task in plan.tasks:
        if task.start is None:
            continue
        became = state.tasks.get(task.id)
        look = "out" if became is None or not became.in_plan else _LOOKS.get(became.state, "briefed")
        for first, last in runs(task.lanes, place):
            boxes.append(
                {
                    "x": first,
                    "width": last - first + 1,
                    "y": task.start,
                    "height": max(task.likely_min, 1.0),
                    "look": look,
                }
            )
    briefed = [task.start + task.likely_min for task in plan.tasks if task.start is not None]
    return {
        "columns": len(place),
        "top": 0.0,
        "bottom": max([plan.sortie.limit, *briefed]) + AFTER_MIN,
        "boxes": boxes,
        "now": round(state.pet_min, 2),
        "limit": state.limit.pet_min,
    }
