"""Writes the answer to the sender of an event: its outcome, a hint if something looks odd, and what the entry did."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any

from dashboard.core.base.times import instant_text, minutes_between, parse_instant
from dashboard.core.events.answers import Amend
from dashboard.core.events.event import Event
from dashboard.core.events.far_off import counts_then, far_off
from dashboard.core.events.names import KnownNames
from dashboard.core.plan.model import Plan
from dashboard.log.store import Outcome
from dashboard.service.trial.effect import EntryFigures, discrepancy_words, moved, new_misfits
from dashboard.words import duration

FUTURE_TOLERANCE_MIN = 1 / 60
TAKEN = ("recorded", "already recorded")
KEPT = (*TAKEN, "in memory only")


def answer(
    outcome: Outcome, event: Event | None, names: KnownNames, now: datetime, plan: Plan, pet_zero: datetime,
    by_id: Mapping[str, Event],
) -> dict[str, Any]:
    """Make the answer for one event.

    Parameters
    ----------
    outcome
        What the store did.
    event
        The event as the store has it, or as it is kept in memory; None: it could not be read.
    names
        What an event may name.
    now
        The instant of the entry, to recognise events of the future.
    plan
        The briefed plan.
    pet_zero
        Used with the plan to recognise times far off the sortie.
    by_id
        Event by id, to find what an amendment changes.

    Returns
    -------
    dict
        `status`, `id`, `seq`, `why`, `hint` and `did`. `hint` is None when there is none; `did` is None, to be filled in later.
    """
    told: dict[str, Any] = {
        "status": outcome.status,
        "id": outcome.id,
        "seq": outcome.seq,
        "why": outcome.why,
        "hint": None,
        "did": None,
    }
    if outcome.status not in KEPT or event is None:
        return told
    if (why := names.unknown(event)) is not None:
        where = ", in memory only" if outcome.status == "in memory only" else ""
        return {**told, "status": "unread", "why": f"{why} The event is kept as it came{where}."}
    hints = [_of_its_time(event, now, plan, pet_zero, by_id), _of_what_is_required(event, plan)]
    told["hint"] = " ".join(hint for hint in hints if hint) or None
    return told


def effect_of(
    event: str, before: EntryFigures, after: EntryFigures, entered: Collection[str], *, whole: bool, entries: int
) -> dict[str, Any]:
    """Describe what an entry did.

    Parameters
    ----------
    event
        Id of the event that was entered.
    before, after
        Figures of the state without and with everything that was entered together.
    entered
        Ids of the events of the same request.
    whole
        Whether this answer also tells what all of them moved, and the discrepancies of other events.
    entries
        How many events were entered together.

    Returns
    -------
    dict
        `discrepancies` and `moved`, both in words, and `withdraw`, the event that takes the entry back.
    """
    misfits = new_misfits(before, after)
    own = [one for one in misfits if one.event == event]
    others = [one for one in misfits if one.event not in entered] if whole else []
    change = moved(before, after) if whole else []
    if entries > 1:
        change = [f"with {entries - 1} more entered together: {said}" for said in change]
    return {
        "discrepancies": discrepancy_words([*own, *others], event),
        "moved": change,
        "withdraw": {"kind": "withdraw", "event": event},
    }


def _of_what_is_required(event: Event, plan: Plan) -> str | None:
    required = [task.id for task in plan.tasks if task.required and task.id in event.defers()]
    if not required:
        return None
    are = "is required and" if len(required) == 1 else "are required and"
    return (
        f"{', '.join(required)} {are} not to be deferred. The deferral still takes effect, and an alert stands until the work is "
        f"reinstated. If it is a mistake, withdraw {event.id}."
    )


def _of_its_time(
    event: Event, now: datetime, plan: Plan, pet_zero: datetime, by_id: Mapping[str, Event]
) -> str | None:
    judged = _as_changed(event, by_id)
    odd = far_off(plan, pet_zero, judged)
    ahead_min = minutes_between(now, judged.at)
    if odd is not None:
        right = f"amend {judged.id} again" if judged is not event else f"amend or withdraw {event.id}"
        return f"{odd} ({instant_text(judged.at)}). Is the time right? It {counts_then(judged, now)}. If it is wrong, {right}."
    if ahead_min > FUTURE_TOLERANCE_MIN:
        return f"dated {duration(ahead_min, 'up')} after now; it counts from then on."
    return None


def _as_changed(event: Event, by_id: Mapping[str, Event]) -> Event:
    """The event that an amendment answers, with its amended time. Any other event is returned unchanged."""
    if not isinstance(event, Amend) or "at" not in (changed := event.changed()):
        return event
    try:
        return by_id[event.event].model_copy(update={"at": parse_instant(changed["at"])})
    except (KeyError, ValueError):
        return event
