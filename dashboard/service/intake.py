"""What becomes of events on their way in: completed when they lack an id or a time, and answered in words."""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from dashboard.core.names import KnownNames
from dashboard.core.plan import LONGEST_MIN
from dashboard.core.times import instant_text, minutes_between
from dashboard.log.store import Outcome
from dashboard.words import duration

FUTURE_TOLERANCE_MIN = 1 / 60
TAKEN = ("recorded", "already recorded")


def lacks_only_time(item: Any) -> bool:
    """Whether an item comes with an id and without a time."""
    return isinstance(item, dict) and isinstance(item.get("id"), str) and item.get("at") is None


def completed(item: Any, now: datetime, times: Mapping[str, datetime]) -> Any:
    """The item with an id and a time, without what only the store may give.

    Parameters
    ----------
    item : Any
        As it came; anything but a mapping is handed on as its JSON text.
    now : datetime
        The time of an event that brings none.
    times : mapping
        Event id -> time, for events that are there already.
    """
    if not isinstance(item, dict):
        return json.dumps(item)
    whole = {key: value for key, value in item.items() if key not in ("received", "seq")}
    if lacks_only_time(whole):
        now = times.get(whole["id"], now)
    if whole.get("id") is None:
        whole["id"] = str(uuid.uuid4())
    if whole.get("at") is None:
        whole["at"] = instant_text(now)
    return whole


def answer(outcome: Outcome, event: Any, names: KnownNames, now: datetime) -> dict[str, Any]:
    """What the sender is told: `status`, `id`, `seq`, `why`, and a `hint` where there is one.

    Parameters
    ----------
    outcome : Outcome
        What the store did.
    event : an event model, or None
        The event as the store has it; None: it could not be read.
    names : KnownNames
        What an event may name.
    now : datetime
        For judging events of the future.
    """
    told = {
        "status": outcome.status,
        "id": outcome.id,
        "seq": outcome.seq,
        "why": outcome.why,
        "hint": None,
    }
    if outcome.status not in TAKEN or event is None:
        return told
    if (why := names.unknown(event)) is not None:
        return {**told, "status": "unread", "why": f"{why} The event is kept as it came."}
    ahead_min = minutes_between(now, event.at)
    if ahead_min > LONGEST_MIN:
        told["hint"] = (
            f"dated {instant_text(event.at)}, days after now; is the date right? It counts from then on."
        )
    elif ahead_min > FUTURE_TOLERANCE_MIN:
        told["hint"] = f"dated {duration(ahead_min, 'up')} after now; it counts from then on."
    return told
