"""Where the lanes stand on the sheet: one column a lane, in one order for the whole sortie."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import pairwise, permutations

from dashboard.core.plan.model import Plan

MOST_LANES_TO_ORDER = 7
BLOCK_LEFT = 0.085  # share of a column left of the blocks, for the briefed ticks
BLOCK_RIGHT = 0.965  # the rest is for the spread of ends
NEST = 0.05  # share by which a block inside another is drawn in


def column_order(plan: Plan) -> list[str]:
    """Lanes from left to right so that joint work stands side by side for as many minutes as possible.

    Among equals the order of the plan file wins. With more than seven lanes the file's order is kept.
    """
    lanes = list(plan.lane_ids())
    if not 2 < len(lanes) <= MOST_LANES_TO_ORDER:
        return lanes
    joint: dict[frozenset[str], float] = {}
    for task in plan.all_tasks().values():
        if len(task.lanes) > 1:
            together = frozenset(task.lanes)
            joint[together] = joint.get(together, 0.0) + max(task.likely_min, 1.0)
    if not joint:
        return lanes

    def apart_min(order: Iterable[str]) -> float:
        place = {lane: at for at, lane in enumerate(order)}
        return sum(minutes * (len(runs(lanes_, place)) - 1) for lanes_, minutes in joint.items())

    return list(
        min(permutations(lanes), key=apart_min)
    )  # permutations come in file order; min keeps the first


def runs(lanes: Iterable[str], place: Mapping[str, int]) -> list[tuple[int, int]]:
    """The lanes as stretches of neighbouring columns, first and last column each, left to right."""
    columns = sorted({place[lane] for lane in lanes if lane in place})
    if not columns:
        return []
    breaks = [at for at, (left, right) in enumerate(pairwise(columns), 1) if right != left + 1]
    bounds = [0, *breaks, len(columns)]
    return [(columns[a], columns[b - 1]) for a, b in pairwise(bounds)]
