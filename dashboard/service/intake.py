"""Taking events in: who may enter them, what they lack, handing them to the session, and the answer to the sender."""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any

from dashboard.core.base.times import instant_text
from dashboard.core.events.answers import Answer
from dashboard.core.events.clock import ClockSet
from dashboard.core.events.decision import DecisionFigures
from dashboard.core.events.event import Event
from dashboard.core.events.names import KnownNames
from dashboard.core.state.model import SortieState
from dashboard.service.outcomes import answer
from dashboard.service.roles import Role, may, needed_roles, refusal, refused
from dashboard.service.session.session import Session


class Intake:
    """Takes events for a session.

    Parameters
    ----------
    session : Session
    """

    def __init__(self, session: Session) -> None:
        self._session = session

    def take(
        self, items: Sequence[Any], role: Role, figures: Callable[[], Mapping[str, Any] | None]
    ) -> list[dict[str, Any]]:
        """Take events as they came, with one outcome each: `status`, `id`, `seq`, `why`, maybe a `hint`.

        A missing `id` gets a new one; a missing `at` the session's now, or that of the event which has this id
        already, so that sending once more after a lost answer is no conflict. What the role or the session does not
        allow is refused, and nothing of it is kept.

        Parameters
        ----------
        items : sequence
            Events as they came.
        role : str
            Of the sender.
        figures : callable
            Gives what the board shows now, for decisions that do not say themselves on which figures they were made.
        """
        now = self._session.clock.now()
        barred = {**self._barred(items, now), **self._refused(items, role, now)}
        allowed = [item for place, item in enumerate(items) if place not in barred]
        taken = iter(self._taken(allowed, now, figures) if allowed else [])
        return [barred[place] if place in barred else next(taken) for place in range(len(items))]

    def _barred(self, items: Sequence[Any], now: datetime) -> dict[int, dict[str, Any]]:
        """Place -> outcome, for the items that the session does not take."""
        why = {place: self._session.barred(item, now) for place, item in enumerate(items)}
        return {place: refused(items[place], reason) for place, reason in why.items() if reason is not None}

    def _refused(self, items: Sequence[Any], role: Role, now: datetime) -> dict[int, dict[str, Any]]:
        """Place -> outcome, for the items that this role may not enter."""
        if role == "lead":
            return {}
        known = self._session.known_at(now).events
        kinds = {event.id: event.kind for event in known}
        answers = {event.id: event.event for event in known if isinstance(event, Answer)}
        needed = needed_roles(items, kinds, answers)
        return {
            place: refusal(item, role, wanted)
            for place, (item, wanted) in enumerate(zip(items, needed, strict=True))
            if not may(role, wanted)
        }

    def _taken(
        self, items: Sequence[Any], now: datetime, figures: Callable[[], Mapping[str, Any] | None]
    ) -> list[dict[str, Any]]:
        session = self._session
        shown = figures() if any(map(lacks_figures, items)) else None
        times = self._times_of({item["id"] for item in items if lacks_only_time(item)}, now)
        outcomes = session.enter([completed(item, now, times, shown) for item in items], now)
        known = session.known_at(now).events
        by_id = {event.id: event for event in known}
        names, zero = KnownNames.of(session.plan, known), self._pet_zero(known)
        return [
            answer(outcome, by_id.get(outcome.id or ""), names, now, session.plan, zero, by_id)
            for outcome in outcomes
        ]

    def _pet_zero(self, known: Sequence[Event]) -> datetime:
        """The last clock event of the log, else the planned start; near enough to judge whether a time is far off."""
        return max((e.at for e in known if isinstance(e, ClockSet)), default=self._session.plan.sortie.start)

    def _times_of(self, ids: set[str], now: datetime) -> dict[str, datetime]:
        return {event.id: event.at for event in self._session.known_at(now).events if event.id in ids} if ids else {}


def lacks_only_time(item: Any) -> bool:
    """Whether an item comes with an id and without a time."""
    return isinstance(item, dict) and isinstance(item.get("id"), str) and item.get("at") is None


def lacks_figures(item: Any) -> bool:
    """Whether an item is an event `decision` that does not say itself on which figures it was made."""
    return isinstance(item, dict) and item.get("kind") == "decision" and item.get("figures") is None


def figures_of(state: SortieState, version: int) -> dict[str, Any]:
    """The figures that a decision made on this state was made on, as the field `figures` of its event."""
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
    """The item with an id and a time, without what only the store may give.

    Parameters
    ----------
    item : Any
        As it came; anything but a mapping is handed on as its JSON text.
    now : datetime
        The time of an event that brings none.
    times : mapping
        Event id -> time, for events that are there already.
    figures : mapping or None
        What a decision is made on, where it does not say so itself.
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
    if figures is not None and lacks_figures(whole):
        whole["figures"] = figures
    return whole
