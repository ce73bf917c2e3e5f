"""The chance of the brief: being in by the limit with every suit above its reserve, and what drives it."""

from __future__ import annotations

from collections.abc import Iterator

from dashboard.core.base.minutes import length
from dashboard.core.base.wording import chance_text, listed
from dashboard.core.outlook.briefed import Briefed, found, named, pet
from dashboard.core.plan.fields import Finding
from dashboard.core.plan.model import CONSUMABLE_NAMES
from dashboard.core.schedule.expected import PACE
from dashboard.core.suits.shortfall import shortfall_shares

MORE_LIKELY_LATE = 0.5
LEAST_CAUSE = 0.02
LEAST_SHARE = 0.05
MOST_CAUSES = 4
MOST_DRIVERS = 3


def check_chance(briefed: Briefed) -> Iterator[Finding]:
    """The chance against the wanted confidence.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Yields
    ------
    Finding
        None when the chance is as wanted and at least even, or when no crew task is in the plan of record.
    """
    chance = briefed.chance
    wanted = max(briefed.plan.sortie.confidence, MORE_LIKELY_LATE)
    if chance is None or chance >= wanted:
        return
    causes = listed(shortfalls(briefed))
    consequence = [
        "More likely than not, the crew is in too late or with a suit below its reserve." if chance < MORE_LIKELY_LATE
        else "The room will have to give work up more often than the plan wants.",
        drivers(briefed),
    ]
    yield found(
        "chance", "error" if chance < MORE_LIKELY_LATE else "caution", ("sortie", "limit"), "the plan as briefed",
        f"at least {chance_text(wanted)} likely in by {pet(briefed.limit_pet_min)} with every suit above its reserve",
        chance_text(chance) + (f" ({causes})" if causes else ""),
        "Take work out, load the suits for longer, or give a later limit. `tetherline bear` says what would have to go.",
        " ".join(part for part in consequence if part),
    )


def shortfalls(briefed: Briefed) -> list[str]:
    """Why the draws that are not in time are not, most frequent first. One draw may count for several.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Returns
    -------
    list of str
        Phrases with the share of all draws, such as ``25 % past what the oxygen of suit A lasts``.
    """
    if briefed.expected is None:
        return []
    end = briefed.expected.end
    shares = [
        (share, "past the limit less reserve" if of is None else f"past what the {CONSUMABLE_NAMES[of[1]]} of suit {of[0]} lasts")
        for of, share in shortfall_shares(end, briefed.limit_pet_min, briefed.budget, 0.0).items()
    ]
    counted = sorted((one for one in shares if one[0] >= LEAST_CAUSE), key=lambda one: -one[0])[:MOST_CAUSES]
    return [f"{chance_text(share)} {words}" for share, words in counted]


def drivers(briefed: Briefed) -> str:
    """What drives the end: windows that are likely missed, and what its spread comes from.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Returns
    -------
    str
        A sentence; empty when nothing stands out.
    """
    tasks = briefed.plan.all_tasks()
    said = [
        f"{named(tasks[one.task])} likely misses {one.window} (+{length(one.min)})"
        for one in briefed.state.end.because if one.what == "window likely missed" and one.task in tasks and one.min > 0
    ]
    shares = [one for one in briefed.state.end.drivers if one.spread_share >= LEAST_SHARE]
    said += [
        f"{'the pace of the day' if one.task == PACE else named(tasks[one.task])} ({chance_text(one.spread_share)} of the spread)"
        for one in shares[:MOST_DRIVERS] if one.task == PACE or one.task in tasks
    ]
    return f"What drives the end: {listed(said[: 2 * MOST_DRIVERS])}." if said else ""
