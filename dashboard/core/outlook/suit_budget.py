"""The suits at the briefed workload: which consumable of which suit falls to its reserve before the crew is in, and when."""

from __future__ import annotations

import math
from collections.abc import Iterator

from dashboard.core.base.minutes import length
from dashboard.core.base.wording import listed
from dashboard.core.outlook.briefed import Briefed, found, named, pet
from dashboard.core.plan.fields import Finding, Place
from dashboard.core.plan.model import CONSUMABLE_NAMES
from dashboard.core.suits.budget import is_assumed


def check_suits(briefed: Briefed) -> Iterator[Finding]:
    """Each consumable against the expected end, at the workload of the brief.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Yields
    ------
    Finding
        An error when the reserve is reached before the expected end (P50), a caution when it is before P90 of the end.
    """
    end = briefed.state.end
    expected = end.p50_pet_min if end.p50_pet_min is not None else end.plan_pace_pet_min
    if expected is None:
        return
    late = end.p90_pet_min if end.p90_pet_min is not None else expected
    for at, suit in enumerate(briefed.plan.suits):
        wearer = next((lane.id for lane in briefed.plan.lanes if lane.suit == suit.id), None)
        for name in suit.consumables():
            one = briefed.budget.get((suit.id, name))
            if one is None or not math.isfinite(one.reserve_reached_pet_min) or one.reserve_reached_pet_min >= late:
                continue
            short = one.reserve_reached_pet_min < expected
            by = (expected if short else late) - one.reserve_reached_pet_min
            place: Place = ("suit", at, name)
            yield found(
                "suit-short" if short else "suit-tight", "error" if short else "caution", place,
                f"suit {suit.id} ({wearer}), {CONSUMABLE_NAMES[name]}",
                f"more than the reserve until {'the expected end' if short else 'a late end (P90)'}, "
                f"{pet(expected if short else late, 'up')}",
                f"its reserve reached at {pet(one.reserve_reached_pet_min)}, {length(by, 'up')} before it, "
                "at the briefed workload",
                "Load more, take work of this crew member out, or brief lighter work.",
            )


def check_rates(briefed: Briefed) -> Iterator[Finding]:
    """What the suit budget rests on that the plan does not give.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Yields
    ------
    Finding
        At most one note about rates and one about workloads.
    """
    worn = {lane.suit: lane.id for lane in briefed.plan.lanes if lane.suit is not None}
    assumed = [
        (at, suit.id, name)
        for at, suit in enumerate(briefed.plan.suits) if suit.id in worn
        for name, given in suit.consumables().items() if is_assumed(name, given)
    ]
    if assumed:
        suits = list(dict.fromkeys(suit for _, suit, _ in assumed))
        names = list(dict.fromkeys(CONSUMABLE_NAMES[name] for _, _, name in assumed))
        yield found(
            "suit-assumed", "note", ("suit", assumed[0][0]), f"suit{'s' if len(suits) > 1 else ''} {listed(suits)}",
            f"the rate at which {listed(names)} is used", "none, so an assumed one",
            "Give 'base' (and 'per_watt') from the data of the suit.",
        )
    suited = {lane.id for lane in briefed.plan.lanes if lane.suit is not None}
    without = [task for task in briefed.ordinary if task.workload is None and suited & set(task.lanes)]
    if without and briefed.budget:
        yield found(
            "workload-assumed", "note", briefed.place(without[0].id, "workload"), "key 'workload'",
            "a workload for each task of a suited crew member",
            f"none for {len(without)} of them, the first {named(without[0])}", "Give watts, or rest, light, moderate or heavy.",
        )
