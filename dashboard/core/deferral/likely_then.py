"""How likely a cut will still be needed when it must be decided: what the room will see then, drawn now.

At a later time the room will know more: how fast the work went until then, and how far each lane has come. In each draw these
are known. A regression over the draws of "in by the limit" on what will be known gives, for each draw, the chance that the
room would then see (least-squares Monte Carlo: F. Longstaff and E. Schwartz, "Valuing American options by simulation",
Review of Financial Studies 14:113, 2001; reference from memory, used here for an estimate and not for a price).
"""

from __future__ import annotations

import numpy as np

from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import Expected
from dashboard.core.schedule.float_or_array import Array
from dashboard.core.schedule.plan_pace import Projection


def chance_then(record: Record, before: Projection, expected: Expected, in_time: Array, at_pet_min: float) -> Array:
    """For each draw, the chance of being in by the limit that the room would see at a later time.

    Parameters
    ----------
    record : Record
    before : Projection
        At plan pace, with nothing given up.
    expected : Expected
        Its draws.
    in_time : array of shape (draws,)
        1 in the draws in which the crew is in by the limit with every consumable above its reserve, else 0.
    at_pet_min : float
        The later time.

    Returns
    -------
    array of shape (draws,)
        From 0 to 1.
    """
    columns = _known_then(record, before, expected, at_pet_min)
    told = np.column_stack([np.ones(len(in_time)), *(_scaled(column) for column in columns if column.std() > 1e-9)])
    weights, *_ = np.linalg.lstsq(told, in_time.astype(float), rcond=None)
    chance: Array = np.clip(told @ weights, 0.0, 1.0)
    return chance


def _known_then(record: Record, before: Projection, expected: Expected, at: float) -> list[Array]:
    """Pace until then and its square; the projected end of each lane; the later of the crew lanes."""
    crew = record.plan.crew_lane_ids()
    taken, planned = np.zeros(len(expected.end)), np.zeros(len(expected.end))
    left: dict[str, Array] = {}
    for task_id, start, finish in zip(expected.tasks, expected.starts, expected.finishes, strict=True):
        slot, lanes = before.slots[task_id], record.runs[task_id].lanes
        length = slot.finish_pet_min - slot.start_pet_min
        elapsed, over = np.clip(at - start, 0.0, None), finish <= at
        if set(crew) & set(lanes):
            taken += np.where(over, finish - start, 0.0)
            planned += np.where(over, length, 0.0)
        rest = np.where(over, 0.0, np.maximum(length - elapsed, 0.0))
        for lane in lanes:
            left[lane] = left[lane] + rest if lane in left else rest
    pace = np.divide(taken, planned, out=np.ones_like(taken), where=planned > 1e-9)
    ends = {lane: at + pace * rest for lane, rest in left.items()}
    of_crew = [ends[lane] for lane in crew if lane in ends]
    return [pace, pace**2, *ends.values(), *([np.maximum.reduce(of_crew)] if len(of_crew) > 1 else [])]


def _scaled(column: Array) -> Array:
    scaled: Array = (column - column.mean()) / column.std()
    return scaled
