"""The columns of the lane sheet: one column per lane, in one order for the whole sortie."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import pairwise, permutations

from dashboard.core.plan.model import Plan

MOST_LANES_TO_ORDER = 7
BLOCK_LEFT = 0.085  # left edge of a block, as a share of the column; the briefed ticks are left of it
BLOCK_RIGHT = 0.965  # right edge of a block; the spread of its end is right of it
NEST = 0.05  # indentation of a block that overlaps another, as a share of the column


def column_order(plan: Plan) -> list[str]:
    """Order the lanes so that the lanes of joint tasks are neighbours for as many minutes as possible.

    Between equally good orders the one nearest to the plan file is taken. With more than `MOST_LANES_TO_ORDER` lanes the
    order of the plan file is kept.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    list of str
        Lanes from left to right.
    """
    return in_best_order(list(plan.lane_ids()), [(frozenset(task.lanes), task.likely_min) for task in plan.all_tasks().values()])


def in_best_order(lanes: list[str], work: Iterable[tuple[frozenset[str], float]]) -> list[str]:
    """As `column_order`, from the work that is done.

    Parameters
    ----------
    lanes : list of str
        In the order that is kept where nothing speaks against it.
    work : iterable of (frozenset of str, float)
        The lanes of each task, and its minutes.

    Returns
    -------
    list of str
        Lanes from left to right.
    """
    if not 2 < len(lanes) <= MOST_LANES_TO_ORDER:
        return lanes
    joint: dict[frozenset[str], float] = {}
    for together, minutes in work:
        if len(together) > 1:
            joint[together] = joint.get(together, 0.0) + max(minutes, 1.0)
    if not joint:
        return lanes

    def apart_min(order: Iterable[str]) -> float:
        place = {lane: at for at, lane in enumerate(order)}
        return sum(minutes * (len(runs(lanes_, place)) - 1) for lanes_, minutes in joint.items())

    return list(min(permutations(lanes), key=apart_min))  # permutations begin with the file's order; min keeps the first


def runs(lanes: Iterable[str], place: Mapping[str, int]) -> list[tuple[int, int]]:
    """Group lanes into runs of neighbouring columns.

    Parameters
    ----------
    lanes : iterable of str
    place : mapping of str to int
        Column of each lane. Lanes without a column are left out.

    Returns
    -------
    list of (int, int)
        First and last column of each run, from left to right.
    """
    columns = sorted({place[lane] for lane in lanes if lane in place})
    if not columns:
        return []
    breaks = [at for at, (left, right) in enumerate(pairwise(columns), 1) if right != left + 1]
    bounds = [0, *breaks, len(columns)]
    return [(columns[a], columns[b - 1]) for a, b in pairwise(bounds)]
