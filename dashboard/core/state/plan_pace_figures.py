"""How the lanes stand against the brief, and which limit holds, at plan pace: the part of a state that needs no draws.

The state of one instant is made of these, and the drift of many instants of nothing else.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from dashboard.core.plan.model import Plan
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.ahead import LaneStanding, lane_standing
from dashboard.core.schedule.plan_pace import project
from dashboard.core.state.model import LimitState
from dashboard.core.suits.budget import Budget, every_budget


class PlanPaceFigures(NamedTuple):
    """The figures of one instant.

    Parameters
    ----------
    ahead_min : mapping of str to float or None
        For each crew lane; positive is ahead, None is unknown.
    end_pet_min : float or None
        Projected end at plan pace; None when no crew task remains.
    limit_pet_min : float
    """

    ahead_min: Mapping[str, float | None]
    end_pet_min: float | None
    limit_pet_min: float


def figures_of(record: Record) -> PlanPaceFigures:
    """The figures of a record, equal to those of the state of it without draws.

    Parameters
    ----------
    record
        Made by `reconcile`.

    Returns
    -------
    PlanPaceFigures
    """
    projection = project(record)
    budgets = {which: one for which, one in every_budget(record, projection, None).items() if not one.assumed}
    runs = runs_by_lane(record)
    ahead = {name: lane_standing(record, name, runs[name]).ahead_min for name in record.plan.crew_lane_ids()}
    return PlanPaceFigures(ahead, projection.end_pet_min, limit_of(record.plan, budgets).pet_min)


def standings_of(record: Record, runs: Mapping[str, list[TaskRun]]) -> dict[str, LaneStanding]:
    """How each lane stands against the brief.

    Parameters
    ----------
    record
        Made by `reconcile`.
    runs
        As `runs_by_lane` gives them.

    Returns
    -------
    dict of str to LaneStanding
        By lane.
    """
    return {name: lane_standing(record, name, of_lane) for name, of_lane in runs.items()}


def runs_by_lane(record: Record) -> dict[str, list[TaskRun]]:
    """The tasks of each lane, in the order of the plan of record.

    Parameters
    ----------
    record
        Made by `reconcile`.

    Returns
    -------
    dict of str to list of TaskRun
        By lane; a joint task is in the list of each of its lanes.
    """
    by_lane: dict[str, list[TaskRun]] = {lane.id: [] for lane in record.plan.lanes}
    for task_id in record.order:
        run = record.runs[task_id]
        for name in run.lanes:
            by_lane[name].append(run)
    return by_lane


def limit_of(plan: Plan, budgets: Mapping[tuple[str, str], Budget]) -> LimitState:
    """The earlier of the planned limit less reserve and the first suit reserve that is reached.

    Parameters
    ----------
    plan
        As briefed.
    budgets
        Those that may set a limit, by suit and consumable.

    Returns
    -------
    LimitState
        With what sets it.
    """
    sortie = plan.sortie
    pet, set_by = sortie.limit_less_reserve_pet_min, "planned limit less reserve" if sortie.reserve else "planned limit"
    for (suit, name), one in budgets.items():
        if one.reserve_reached_pet_min < pet:
            pet, set_by = one.reserve_reached_pet_min, f"suit {suit} {name}"
    return LimitState(pet_min=pet, set_by=set_by)
