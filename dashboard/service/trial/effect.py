"""The effect of an entry on the figures, in words: the end, the need for advice, the limit, and the lanes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from dashboard.core.state.model import SortieState
from dashboard.words import ahead, chance, duration, pet_named

LEAST_LANE_CHANGE_MIN = 1.0
LEAST_CHANCE_CHANGE = 0.01


class Misfit(NamedTuple):
    """One discrepancy of a state."""

    event: str | None
    expected: str
    found: str

    def text(self) -> str:
        """The discrepancy as one sentence."""
        return f"expected {self.expected}; found {self.found}"


class EntryFigures(NamedTuple):
    """Figures of a state that an entry can move, as plain values that can be sent between processes."""

    plan_pace_pet_min: float | None
    p50_pet_min: float | None
    in_by_limit: float | None
    limit_pet_min: float
    limit_set_by: str
    advice_needed: bool | None
    call: str | None
    ended: bool
    ahead_min: dict[str, float | None]
    misfits: tuple[Misfit, ...]


def figures_of_state(state: SortieState) -> EntryFigures:
    """The figures of a state that an entry can move.

    Parameters
    ----------
    state
        The state before or after the entry.

    Returns
    -------
    EntryFigures
        As the state gives them.
    """
    end, advice = state.end, state.advice
    return EntryFigures(
        plan_pace_pet_min=end.plan_pace_pet_min,
        p50_pet_min=end.p50_pet_min,
        in_by_limit=end.in_by_limit,
        limit_pet_min=state.limit.pet_min,
        limit_set_by=state.limit.set_by,
        advice_needed=advice.needed,
        call=getattr(advice, "call", None),
        ended=state.ended,
        ahead_min={name: lane.ahead_min for name, lane in state.lanes.items()},
        misfits=tuple(Misfit(one.event, one.expected, one.found) for one in state.discrepancies),
    )


def new_misfits(before: EntryFigures, after: EntryFigures) -> list[Misfit]:
    """The discrepancies that an entry added.

    Parameters
    ----------
    before
        The figures without the entry.
    after
        The figures with it.

    Returns
    -------
    list of Misfit
        In the order of the state.
    """
    known = set(before.misfits)
    return [one for one in after.misfits if one not in known]


def moved(before: EntryFigures, after: EntryFigures) -> list[str]:
    """The figures that an entry moved, in words.

    Parameters
    ----------
    before
        The figures without the entry.
    after
        The figures with it.

    Returns
    -------
    list of str
        One phrase for each figure that changed enough to be shown.
    """
    return [said for said in (_end(before, after), _chance(before, after), _limit(before, after),
                              *_advice(before, after), *_lanes(before, after), _closed(before, after)) if said]  # fmt: skip


def _end(before: EntryFigures, after: EntryFigures) -> str | None:
    """The expected end when both figures have it, else the end at plan pace."""
    both = before.p50_pet_min is not None and after.p50_pet_min is not None
    name = "the expected end (P50)" if both else "the end at plan pace"
    old, new = (
        (before.p50_pet_min, after.p50_pet_min) if both else (before.plan_pace_pet_min, after.plan_pace_pet_min)
    )
    if old is None or new is None or pet_named(old, "up") == pet_named(new, "up"):
        return None
    return f"{name} moves from {pet_named(old, 'up')} to {pet_named(new, 'up')}, {_later(new - old)}"


def _later(minutes: float) -> str:
    by = "less than 1 min" if abs(minutes) < 1 else duration(abs(minutes))
    return f"{by} {'later' if minutes > 0 else 'earlier'}"


def _chance(before: EntryFigures, after: EntryFigures) -> str | None:
    old, new = before.in_by_limit, after.in_by_limit
    if old is None or new is None or abs(new - old) < LEAST_CHANCE_CHANGE:
        return None
    return f"the chance to be in by the limit goes from {chance(old)} to {chance(new)}"


def _limit(before: EntryFigures, after: EntryFigures) -> str | None:
    old, new = (f"{pet_named(one.limit_pet_min)} ({one.limit_set_by})" for one in (before, after))
    return None if old == new else f"the limit goes from {old} to {new}"


def _advice(before: EntryFigures, after: EntryFigures) -> list[str]:
    if before.call is not None and after.call is not None and before.call != after.call:
        return [f"the call goes from {before.call} to {after.call}"]
    if before.advice_needed is after.advice_needed or after.advice_needed is None:
        return []
    if after.advice_needed:
        return ["the chance in time is below the wanted one from here on"]
    return [] if before.advice_needed is None else ["the chance in time is as wanted again"]


def _lanes(before: EntryFigures, after: EntryFigures) -> list[str]:
    return [
        f"{lane} is {ahead(new)}, was {ahead(old)}"
        for lane, new in after.ahead_min.items()
        if (old := before.ahead_min.get(lane)) != new
        and (old is None or new is None or abs(new - old) >= LEAST_LANE_CHANGE_MIN)
    ]


def _closed(before: EntryFigures, after: EntryFigures) -> str | None:
    if before.ended is after.ended:
        return None
    return "the sortie is closed" if after.ended else "the sortie is open again"


def discrepancy_words(misfits: Sequence[Misfit], event: str | None) -> list[str]:
    """Discrepancies as sentences.

    Parameters
    ----------
    misfits
        The discrepancies.
    event
        Id of the entered event; a discrepancy of another event begins with that event's id. None: no event is known.

    Returns
    -------
    list of str
        One for each discrepancy, in the same order.
    """
    return [one.text() if one.event == event else f"{one.event or 'the log'}: {one.text()}" for one in misfits]
