"""Completes events that come in: an id and a time if they have none, instants for PETs, figures for decisions."""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from dashboard.core.base.times import instant_text, parse_minutes, plus_minutes
from dashboard.core.events.decision import DecisionFigures
from dashboard.core.events.event import Event
from dashboard.core.state.model import SortieState

PET_TEXT = re.compile(r"\s*[-+]?\d{1,3}:[0-5]\d(:[0-5]\d(\.\d+)?)?\s*")


def lacks_only_time(item: Any) -> bool:
    """Tell whether an item comes with an id but without a time.

    Parameters
    ----------
    item
        An event as it came, or anything else.

    Returns
    -------
    bool
        False for anything but a mapping.
    """
    return isinstance(item, dict) and isinstance(item.get("id"), str) and item.get("at") is None


def lacks_figures(item: Any) -> bool:
    """Tell whether an item is an event `decision` that does not say on which figures it was made.

    Parameters
    ----------
    item
        An event as it came, or anything else.

    Returns
    -------
    bool
        False for anything but a mapping.
    """
    return isinstance(item, dict) and item.get("kind") == "decision" and item.get("figures") is None


def gives_pet(item: Any) -> bool:
    """Tell whether an item gives a time as PET: its own, or the one that it changes an event to.

    Parameters
    ----------
    item
        An event as it came, or anything else.

    Returns
    -------
    bool
        False for anything but a mapping.
    """
    return isinstance(item, dict) and (_is_pet(item.get("at")) or _is_pet(_changes(item).get("at")))


def with_instants(item: dict[str, Any], pet_zero: datetime) -> dict[str, Any]:
    """Replace the PETs that an item gives by instants.

    Parameters
    ----------
    item
        An event as it came; it is not changed.
    pet_zero
        The instant from which PETs count; aware.

    Returns
    -------
    dict
        The item with instants as RFC 3339 text.
    """
    told = dict(item)
    if _is_pet(told.get("at")):
        told["at"] = _instant(told["at"], pet_zero)
    if _is_pet(_changes(item).get("at")):
        told["changes"] = {**_changes(item), "at": _instant(_changes(item)["at"], pet_zero)}
    return told


def figures_of(state: SortieState, version: int | None = None) -> dict[str, Any]:
    """Collect the figures of a state for the field `figures` of a decision that is made on it.

    Parameters
    ----------
    state
        The state that the decision is made on.
    version
        Version of the board that showed the state; None: no board showed it.

    Returns
    -------
    dict
        Plain values for JSON.
    """
    end = state.end
    return DecisionFigures(
        pet_min=state.pet_min,
        end_plan_pace_pet_min=end.plan_pace_pet_min,
        end_p10_pet_min=end.p10_pet_min,
        end_p50_pet_min=end.p50_pet_min,
        end_p90_pet_min=end.p90_pet_min,
        in_by_limit=end.in_by_limit,
        limit_pet_min=state.limit.pet_min,
        limit_set_by=state.limit.set_by,
        margin_min={name: suit.margin_min for name, suit in state.suits.items()},
        plan=state.basis.plan,
        events=state.basis.events,
        version=version,
    ).model_dump(mode="json")


def completed(
    item: Any, now: datetime, times: Mapping[str, datetime], figures: Mapping[str, Any] | None = None
) -> Any:
    """Complete an item with an id and a time, and remove the fields that only the store may give.

    Parameters
    ----------
    item
        An event as it came, or anything else.
    now
        The time of an event that brings none.
    times
        Time by event id, for events that are there already.
    figures
        The figures that a decision is made on, if it does not give them itself; None: none are added.

    Returns
    -------
    dict or str
        The completed event. Anything but a mapping comes back as its JSON text.
    """
    if not isinstance(item, dict):
        return json.dumps(item)
    whole = {key: value for key, value in item.items() if key not in ("received", "seq", "entered_by")}
    if lacks_only_time(whole):
        now = times.get(whole["id"], now)
    if whole.get("id") is None:
        whole["id"] = str(uuid.uuid4())
    if whole.get("at") is None:
        whole["at"] = instant_text(now)
    if figures is not None and lacks_figures(whole):
        whole["figures"] = dict(figures)
    return whole


def signed(item: Any, name: str, taken: Mapping[str, Event]) -> Any:
    """Add the name of its sender to an item: as `by` if it has none, as `entered_by` if `by` names another person.

    Parameters
    ----------
    item
        As `completed` gives it.
    name
        Name of the sender; empty when it is not known.
    taken
        Event by id, for events that are there already. When one is sent again, by anyone, it keeps its `by`.

    Returns
    -------
    dict or str
        The item with the name. It comes back as it is when the name is not known or the item is not a mapping.
    """
    if not name or not isinstance(item, dict):
        return item
    first = taken.get(item["id"]) if isinstance(item.get("id"), str) else None
    if item.get("by") is None:
        item = {**item, "by": name if first is None else first.by}
    return item if item["by"] == name else {**item, "entered_by": name}


def _is_pet(value: Any) -> bool:
    return isinstance(value, str) and PET_TEXT.fullmatch(value) is not None


def _instant(pet: str, pet_zero: datetime) -> str:
    return instant_text(plus_minutes(pet_zero, parse_minutes(pet.strip().removeprefix("+"))))


def _changes(item: Mapping[str, Any]) -> Mapping[str, Any]:
    changes = item.get("changes")
    return changes if isinstance(changes, dict) else {}
