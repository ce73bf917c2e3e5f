"""The way back at every hour of the brief: leave-by times, the turn-back time, and whether the plan has a way home."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from dashboard.core.base.minutes import length
from dashboard.core.base.wording import listed
from dashboard.core.outlook.briefed import Briefed, found, named, pet
from dashboard.core.plan.fields import Finding
from dashboard.core.suits.place import Place, Places
from dashboard.core.suits.turn_back import WayBack

HOUR_MIN = 60.0
TINY_MIN = 1e-6


class AtHour(NamedTuple):
    """The way back if everybody turned back at one PET of a sortie that goes as planned.

    Parameters
    ----------
    pet_min : float
    places : dict of str to Place
        Crew lane -> where it is then.
    spare_min : float
        Minutes to spare when the crew is in; negative: too late.
    by : str
        What has least to spare, in words.
    """

    pet_min: float
    places: dict[str, Place]
    spare_min: float
    by: str


def hours(briefed: Briefed) -> list[float]:
    """The whole hours of the sortie as planned.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Returns
    -------
    list of float
        PET minutes from PET zero on, before the end at plan pace.
    """
    end = briefed.projection.end_pet_min or 0.0
    return [hour * HOUR_MIN for hour in range(int(end // HOUR_MIN) + 1) if hour * HOUR_MIN < end]


def way_back_of(briefed: Briefed) -> WayBack:
    """Turn-back and leave-by times as seen at PET zero.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Returns
    -------
    WayBack
    """
    places = Places(briefed.record, briefed.projection.slots, briefed.way_home)
    return WayBack(briefed.record, briefed.projection, places, briefed.budget, briefed.plan.crew_lane_ids())


def at_every_hour(briefed: Briefed) -> list[AtHour]:
    """The way back at every hour of the sortie as planned.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Returns
    -------
    list of AtHour
        In order of time.
    """
    back = way_back_of(briefed)
    found_at = []
    for pet_min in hours(briefed):
        missed = back.spare(pet_min)
        places = {lane: back.places.at(lane, pet_min) for lane in briefed.plan.crew_lane_ids()}
        found_at.append(AtHour(pet_min, places, missed.spare_min, missed.by))
    return found_at


def check_leave_by(briefed: Briefed) -> Iterator[Finding]:
    """The last work at each worksite against the time to have left it.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Yields
    ------
    Finding
        An error when it is past at plan pace, a caution when it is past at the expected pace.
    """
    sites = {site.id: at for at, site in enumerate(briefed.plan.worksites)}
    tasks = briefed.plan.all_tasks()
    for name, site in briefed.state.worksites.items():
        by, leaves, last = site.leave_by_pet_min, site.leaves_pet_min, site.last_task
        if by is None or leaves is None or last is None or leaves <= by + TINY_MIN:
            continue
        at_plan_pace = briefed.projection.slots[last].finish_pet_min > by + TINY_MIN
        yield found(
            "leave-by", "error" if at_plan_pace else "caution", ("worksite", sites[name]), f"worksite {name}",
            f"to be left by {pet(by)}, set by {site.leave_by_set_by}",
            f"{named(tasks[last])} expected to end at {pet(leaves, 'up')}, {length(leaves - by, 'up')} later",
            f"Do what is at {name} earlier, let it be trimmed ('shortest'), or change what sets the time.",
        )


def check_turn_back(briefed: Briefed) -> Iterator[Finding]:
    """Whether the crew could turn back at every hour until its way home begins.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Yields
    ------
    Finding
        An error when the turn-back time lies before PET zero, a caution when it lies before the way home.
    """
    slots = briefed.projection.slots
    begins = [slots[task_id].start_pet_min for task_id in briefed.way_home if task_id in slots]
    until = min(begins, default=briefed.projection.end_pet_min or 0.0)
    late = [one for one in at_every_hour(briefed) if one.pet_min < until and one.spare_min < -TINY_MIN]
    if not late:
        return
    turn_back = way_back_of(briefed).turn_back()
    at_once = late[0].pet_min == 0.0
    found_words = "too late even at PET zero" if at_once or turn_back is None else f"a turn-back time of {pet(turn_back.pet_min)}"
    shown = listed([f"{length(-one.spare_min, 'up')} too late at {pet(one.pet_min)}" for one in late[:3]])
    yield found(
        "turn-back", "error" if at_once else "caution", ("sortie", "limit"), "the way back",
        f"a crew that can turn back at every hour until its way home begins, {pet(until)}",
        f"{found_words}, set by {late[0].by} ({shown})", "Put required work earlier, or load more of what sets the time.",
    )


def check_way_home(briefed: Briefed) -> Iterator[Finding]:
    """Whether the last work of each crew lane is a way home that no advice gives up.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Yields
    ------
    Finding
        A caution for all lanes that have none.
    """
    runs = briefed.record.runs
    without = [
        lane for lane in briefed.plan.crew_lane_ids()
        if any(lane in task.lanes for task in briefed.ordinary) and not any(lane in runs[t].lanes for t in briefed.way_home)
    ]
    if without:
        lanes = [at for at, lane in enumerate(briefed.plan.lanes) if lane.id in without]
        yield found(
            "no-way-home", "caution", ("lane", lanes[0]), f"lane{'s' if len(without) > 1 else ''} {listed(without)}",
            "required tasks at the end, or work at a worksite without a way back (the airlock)", "none",
            "Brief the way home and the airlock work as tasks with required = true.",
        )
