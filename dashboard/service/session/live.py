"""A live sortie: a store keeps its events, and its clock is the time of day."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any

from dashboard.core.base.problems import InputError
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.log.store import EventStore, Outcome
from dashboard.service.session.clock import Clock, LiveClock
from dashboard.service.session.session import KnownEvents, Session


class LiveSession(Session):
    """A sortie as it happens.

    Parameters
    ----------
    plan : Plan
        As briefed.
    store : EventStore
        Where its events are kept; closed with the session.
    clock : Clock or None
        What time it is; None: the time of day of this computer.
    """

    def __init__(self, plan: Plan, store: EventStore, clock: Clock | None = None) -> None:
        self.plan = plan
        self.clock = clock or LiveClock()
        self._store = store
        self.opening = store.opening

    def known_at(self, now: datetime) -> KnownEvents:
        events, last = self._store.events(), self._store.received_last()
        if last is not None and last > now:
            # Everything in the store has been received: a later time of receipt means that the clock was set back since.
            events = [
                event if event.received is None or event.received <= now else event.model_copy(update={"received": now})
                for event in events
            ]
        return KnownEvents(events, self._store.unread())

    def enter(self, items: Sequence[Any], received: datetime) -> list[Outcome]:
        return self._store.append(items, received)

    def taken(self) -> Mapping[str, Event]:
        return self._store.by_id()

    def rows_after(self, cursor: int, now: datetime) -> list[dict[str, Any]]:
        # `seq` counts in order of receipt, so it serves as the cursor.
        return [{**row, "cursor": row["seq"]} for row in self._store.rows_after(cursor)]

    @property
    def store_trouble(self) -> str | None:
        return self._store.trouble

    def received_last(self) -> datetime | None:
        try:
            return self._store.received_last()
        except InputError:
            return None

    @property
    def kept_in(self) -> str:
        return self._store.where

    def store_clock(self) -> datetime | None:
        return self._store.clock()

    def watch(self, heard: Callable[[], None]) -> None:
        self._store.watch(heard)

    def backup_text(self) -> str:
        return self._store.backup_text()

    def close(self) -> None:
        self._store.close()
