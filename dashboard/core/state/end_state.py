"""The end of the sortie in the state, the chance in time, and why a figure is not known."""

from __future__ import annotations

import math

import numpy as np

from dashboard.core.plan.model import Plan
from dashboard.core.schedule.because import because, may_miss
from dashboard.core.schedule.expected import SEED
from dashboard.core.state.computed import Computed
from dashboard.core.state.model import (
    Driver,
    EndState,
)
from dashboard.core.suits.budget import limit_draws
from dashboard.core.suits.shortfall import short_of

DRIVERS_SHOWN = 8



def briefed_end_pet_min(plan: Plan) -> float | None:
    """Latest briefed finish over the crew lanes, with the default option of each alternative and without get-aheads.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    float or None
        PET minutes; None when no task of a crew lane is briefed.
    """
    crew = set(plan.crew_lane_ids())
    not_default = {
        task_id
        for a in plan.alternatives for name, task_ids in a.options.items() if name != a.default
        for task_id in task_ids
        if task_id not in a.options[a.default]
    }
    ends = [
        task.start + task.likely_min
        for task in plan.tasks
        if task.start is not None and crew & set(task.lanes) and not task.get_ahead and task.id not in not_default
    ]
    return max(ends, default=None)


def _in_by_limit(computed: Computed) -> float | None:
    """Share of draws that end by the planned limit less reserve with every consumable above its reserve."""
    if computed.expected is None:
        return None
    end = computed.expected.end
    ok = end <= computed.record.plan.sortie.limit_less_reserve_pet_min
    suits = limit_draws(computed.budget, max(0.0, computed.record.pet_min), SEED, len(end))
    return float(ok.mean() if suits is None else (ok & (end <= suits)).mean())


def _short_of(computed: Computed) -> str | None:
    if computed.expected is None:
        return None
    limit = computed.record.plan.sortie.limit_less_reserve_pet_min
    return short_of(computed.expected.end, limit, computed.budget, max(0.0, computed.record.pet_min))


def _drivers(computed: Computed) -> list[Driver]:
    if computed.expected is None:
        return []
    crew = set(computed.record.plan.crew_lane_ids())
    lanes = {task_id: run.lanes for task_id, run in computed.record.runs.items()}
    return [
        Driver(task=d.task, sets_end=d.sets_end, spread_share=d.spread_share)
        for d in computed.expected.drivers(computed.projection, crew, lanes)[:DRIVERS_SHOWN]
    ]


def end_state(computed: Computed) -> EndState:
    """The end of the sortie: as briefed, at plan pace, expected, and actual.

    Parameters
    ----------
    computed : Computed

    Returns
    -------
    EndState
    """
    record, chain, end = computed.record, computed.projection.chain, computed.projection.end_pet_min
    p10, p50, p90 = (
        np.percentile(computed.expected.end, (10, 50, 90)).tolist() if computed.expected else (None, None, None)
    )
    closed = record.end_pet_min
    is_in = end if end is not None else closed
    return EndState(
        briefed_pet_min=briefed_end_pet_min(record.plan),
        plan_pace_pet_min=end,
        actual_pet_min=None if closed is None else is_in,
        closed_pet_min=closed,
        margin_min=None if is_in is None else computed.limit.pet_min - is_in,
        p10_pet_min=p10,
        p50_pet_min=p50,
        p90_pet_min=p90,
        in_by_limit=_in_by_limit(computed),
        short_of=_short_of(computed),
        drivers=_drivers(computed),
        because=because(record, computed.projection, computed.expected, briefed_end_pet_min(record.plan)),
        may_miss=may_miss(record, computed.expected),
        chain=chain,
        chain_starts_with=computed.projection.slots[chain[0]].waits if chain else None,
    )


def not_known(computed: Computed, draws: int) -> dict[str, str]:
    """Why a field holds no number, in words.

    Parameters
    ----------
    computed : Computed
    draws : int
        Number of draws that were asked for.

    Returns
    -------
    dict of str to str
        By the name of the field in the state.
    """
    said = {"advice.choices": "the choices are made on demand: ask for advice"}
    if computed.expected is None:
        why = "nothing of the crew remains" if draws else "not drawn: only the plan-pace projection was asked for"
        for name in ("end.p10_pet_min", "end.p50_pet_min", "end.p90_pet_min", "end.in_by_limit"):
            said[name] = why
    if not computed.shown:
        said["suits"] = "no crew lane wears a suit of the plan, or no crew task is in the plan of record"
    said.update(_no_reserve_time(computed))
    for lane, count in computed.pace.finished.items():
        if not count:
            said[f"lanes.{lane}.pace"] = "no finished task tells of it"
    return said


def _no_reserve_time(computed: Computed) -> dict[str, str]:
    """For each consumable whose reserve is never projected to be reached: why, in words."""
    worn = {lane.suit for lane in computed.record.plan.lanes}
    said = {}
    for suit in computed.record.plan.suits:
        for name in suit.consumables():
            one = computed.shown.get((suit.id, name))
            if one is None:
                why = "no crew task is in the plan of record" if suit.id in worn else "nobody wears this suit"
            elif not math.isfinite(one.reserve_reached_pet_min):
                why = "never reached: no use is modelled"
            else:
                continue
            said[f"suits.{suit.id}.consumables.{name}.reserve_reached_pet_min"] = why
    return said
