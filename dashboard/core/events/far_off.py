"""Events dated far off the sortie: how far, and which of them say nothing then.

What happens to work at a time (a start, a hold, a reading: `Event.is_timed`) makes figures of that time. Dated years or
days from the sortie it is a slip of the pen: it does not count until its time is amended, and is listed as what does not
fit. A change of plan (defer, move, decide) rests on no time: it counts, and is listed all the same. A note, an answer and
PET zero itself (`Event.may_be_far_off`) are not listed.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from dashboard.core.base.findings import Discrepancy
from dashboard.core.base.minutes import clock, length
from dashboard.core.base.times import instant_text, minutes_between
from dashboard.core.events.clock import ClockSet
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan

FAR_OFF_MIN = 12 * 60.0
DAY_MIN = 24 * 60.0
LONGEST_PET_MIN = 100 * 60.0  # what is dated further off is told in days


def far_off(plan: Plan, pet_zero: datetime, event: Event, *, agreed: bool = False) -> str | None:
    """How far an event is dated from the sortie, in words; None: it may well belong to it.

    Ordinary is from `FAR_OFF_MIN` before PET zero to as long after the limit. PET zero itself is compared with the planned
    start. What an amendment changes the time to is judged by `far_off` of the event as amended.

    Parameters
    ----------
    plan
        Gives the limit and the planned start.
    pet_zero
        Aware.
    event
        Of any kind.
    agreed
        The work of the log agrees with `pet_zero` (`work_agrees`), as it does on a training day. A `clock` event is then
        ordinary when it lies near the planned start or near `pet_zero`.

    Returns
    -------
    str or None
        For example ``dated 41 days before PET zero``.
    """
    zero = plan.sortie.start if isinstance(event, ClockSet) else pet_zero
    pet_min = minutes_between(zero, event.at)
    held_against = [pet_min, minutes_between(pet_zero, event.at)] if agreed else [pet_min]
    if any(-FAR_OFF_MIN <= one <= plan.sortie.limit + FAR_OFF_MIN for one in held_against):
        return None
    if isinstance(event, ClockSet):
        return f"PET zero {_days(pet_min)} the planned start"
    if abs(pet_min) >= LONGEST_PET_MIN:
        return f"dated {_days(pet_min)} PET zero"
    return f"dated PET {clock(pet_min, 'nearest')}, the limit is PET {clock(plan.sortie.limit, 'nearest')}"


def work_agrees(plan: Plan, pet_zero: datetime, events: Iterable[Event]) -> bool:
    """Whether most of the work of a log is dated as if `pet_zero` were right; without work nothing speaks for it.

    Parameters
    ----------
    plan
        Gives the limit.
    pet_zero
        The PET zero to be judged; aware.
    events
        In any order. Only those that report work are judged.

    Returns
    -------
    bool
        False when at least half of the work is dated far off, and when no work is reported.
    """
    near = [far_off(plan, pet_zero, event) is None for event in events if event.is_work]
    return 2 * sum(near) > len(near)


def _days(minutes: float) -> str:
    """``41 days before``, ``13 h after``."""
    days = round(abs(minutes) / DAY_MIN)
    return f"{f'{days} days' if days > 1 else length(abs(minutes))} {'before' if minutes < 0 else 'after'}"


def does_not_belong(plan: Plan, events: Iterable[Event], now: datetime) -> list[Discrepancy]:
    """A discrepancy for every event that is dated far off the sortie.

    Without a `clock` event, where all the work of the log is far off, it is the planned start that is out of date, and
    nothing is said of the events (`Record.pet_zero_doubt` says it of PET zero).

    Parameters
    ----------
    plan
        Gives the limit, and the planned start as PET zero where no `clock` event sets it.
    events
        As amended, those after `now` included.
    now
        Aware. A `clock` event after it does not set PET zero yet.

    Returns
    -------
    list of Discrepancy
        In the order of `events`. Each says whether its event counts all the same.
    """
    dated = list(events)
    zero = max((e.at for e in dated if isinstance(e, ClockSet) and e.at <= now), default=None)
    judged = plan.sortie.start if zero is None else zero
    odd = {e.id: said for e in dated if not e.may_be_far_off and (said := far_off(plan, judged, e)) is not None}
    if zero is None and not any(e.is_work and e.id not in odd for e in dated):
        return []
    return [
        Discrepancy(
            event=e.id,
            at=e.at,
            expected=f"a time within {FAR_OFF_MIN / 60:g} h of the sortie",
            found=f"{instant_text(e.at)}, {odd[e.id]}; it {counts_then(e, now)}: amend its time, or withdraw it",
        )
        for e in dated
        if e.id in odd
    ]


def counts_then(event: Event, now: datetime) -> str:
    """Whether an event that is dated far off counts, in words.

    Parameters
    ----------
    event
        One that is dated far off the sortie.
    now
        Aware.

    Returns
    -------
    str
        Words that follow "it", for example ``does not count``.
    """
    if event.is_timed:
        return "does not count"
    return "counts from then on" if event.at > now else "counts all the same"
