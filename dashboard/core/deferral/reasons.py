"""Sentences about a choice: what it does, what it gains, how it differs from the others, why none reaches the goal."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from dashboard.core.base.minutes import length
from dashboard.core.base.wording import chance_text, listed
from dashboard.core.deferral.figures import Figures
from dashboard.core.events.change import Change
from dashboard.core.plan.model import CONSUMABLE_NAMES
from dashboard.core.record.record import Record
from dashboard.core.suits.budget import BELOW_RESERVE, Budget
from dashboard.core.suits.shortfall import LIMIT

COSTS_LEAST = "what costs least"
LEAST_FOUND = "the least cost found"
NEAR_THE_BEST = "nearly the best chance, at the least cost"
LEAST_WON_MIN = 0.5


def why_of(record: Record, figures: Figures, now: Figures, reached: str = "") -> str:
    """A sentence that says what a choice does and what it gains; then one for each alternative that it leaves open.

    Parameters
    ----------
    record : Record
    figures : Figures
        Of the choice.
    now : Figures
        Of giving up nothing.
    reached : str
        Put at the end of the first sentence, for example that nothing cheaper reaches the confidence.

    Returns
    -------
    str
    """
    what = _done_by(record, figures.change)
    leaves = "".join(f" Leaves open: {said}." for said in figures.leaves_open.values())
    return f"{what[:1].upper()}{what[1:]}: {_wins(record, figures, now)}{reached}.{leaves}"


def _wins(record: Record, figures: Figures, now: Figures) -> str:
    """The gain in words: minutes of an earlier end; else the chance, where no suit runs short; else what a suit saves."""
    gained = (now.end_pet_min or 0.0) - (figures.end_pet_min or 0.0)
    if gained >= LEAST_WON_MIN:
        return f"in {length(gained)} earlier at plan pace"
    before, after = now.in_by_limit, figures.in_by_limit
    if now.short_of == LIMIT and before is not None and after is not None and after > before:
        return f"in no earlier at plan pace, but the chance in time rises from {chance_text(before)} to {chance_text(after)}"
    for suit, margin_min in sorted(now.margins_min.items(), key=lambda one: one[1]):
        saved = figures.margins_min[suit] - margin_min
        if LEAST_WON_MIN <= saved < math.inf:
            name = now.limiting[suit]
            what = CONSUMABLE_NAMES[name] if figures.limiting[suit] == name else "suit budget"
            lanes = listed([lane.id for lane in record.plan.lanes if lane.suit == suit])
            return f"saves {length(saved)} of {lanes} {what}"
    return "in no earlier at plan pace"


def _done_by(record: Record, change: Change) -> str:
    """The parts of a change in words, such as "defers A and B, cuts C to 20 min"."""
    def named(task_id: str) -> str:
        return record.runs[task_id].task.title or task_id

    parts = [f"defers {listed([named(t) for t in change.defer])}"] if change.defer else []
    parts += [f"cuts {named(t)} to {length(minutes)}" for t, minutes in change.trim.items()]
    parts += [f"breaks off {listed([named(t) for t in change.break_off])}"] if change.break_off else []
    parts += [f"hands {named(t)} to {lane}" for t, lane in change.move.items()]
    parts += [f"takes '{option}' for {a}" for a, option in change.choose.items()]
    if change.order:
        parts.append("takes the rest in a new order")
    return ", ".join(parts) if parts else "gives up nothing"


def differs_from(earlier: Sequence[Change], change: Change, *, proven: bool) -> str:
    """How a choice differs from the cheaper choices before it, in words.

    Parameters
    ----------
    earlier : sequence of Change
        The cheaper choices, cheapest first.
    change : Change
    proven : bool
        For the first choice: it is proven that nothing costs less.

    Returns
    -------
    str
    """
    if not earlier:
        return COSTS_LEAST if proven else LEAST_FOUND
    kept = [t for t in earlier[-1].given_up() if t not in change.given_up()]
    if kept:
        return f"keeps {listed(kept)}"
    if any(one.choose != change.choose for one in earlier):
        return "takes another option"
    return "another way"


def nothing_reaches(
    record: Record, budget: Mapping[tuple[str, str], Budget], givable: bool, limit_pet_min: float, kept: bool, wanted: str
) -> str:
    """A sentence that says why the goal cannot be reached.

    Parameters
    ----------
    record : Record
    budget : mapping
        (suit, consumable) -> its budget as things stand.
    givable : bool
        Something that remains may be given up.
    limit_pet_min : float
    kept : bool
        The user named tasks to keep.
    wanted : str
        The goal as a predicate, such as "reaches the wanted confidence".

    Returns
    -------
    str
    """
    if record.pet_min > limit_pet_min:
        return "The limit is already past."
    below = [f"suit {suit} {CONSUMABLE_NAMES[name]}" for (suit, name), one in budget.items() if BELOW_RESERVE in one.flags]
    if below:
        said = f"{listed(below)} {'is' if len(below) == 1 else 'are'} below the reserve already."
        return said[:1].upper() + said[1:]
    but = " with what is to be kept" if kept else ""
    if not givable:
        return f"Nothing that remains may be given up{but}: it is required, of a contingency, or work in hand."
    return f"Nothing that may be given up{but} {wanted}."
