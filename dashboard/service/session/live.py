"""A live sortie: its events are kept in a store, and the time is that of the wall clock."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any

from dashboard.core.base.problems import InputError
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.log.store import EventStore, Outcome
from dashboard.service.session.clock import Clock, LiveClock
from dashboard.service.session.session import Known, Session


class LiveSession(Session):
    """A sortie as it happens.

    Parameters
    ----------
    plan : Plan
        As briefed.
    store : EventStore
        Where its events are kept; closed with the session.
    clock : Clock or None
        None: the wall clock.
    """

    def __init__(self, plan: Plan, store: EventStore, clock: Clock | None = None) -> None:
        self.plan = plan
        self.clock = clock or LiveClock()
        self._store = store
        self.opening = store.opening

    def known_at(self, now: datetime) -> Known:
        """What the room has. All of it was received by `now`, also where the clock was set back since."""
        events = [
            event if event.received is None or event.received <= now else event.model_copy(update={"received": now})
            for event in self._store.events()
        ]
        return Known(events, self._store.unread())

    def enter(self, items: Sequence[Any], received: datetime) -> list[Outcome]:
        """Take events as they came; acknowledged only once on disk."""
        return self._store.append(items, received)

    def taken(self) -> Mapping[str, Event]:
        """The events by their id."""
        return {event.id: event for event in self._store.events()}

    def rows_after(self, cursor: int, now: datetime) -> list[dict[str, Any]]:
        """The rows with a `cursor` above this one; it is their `seq`, since that counts in order of receipt."""
        return [{**row, "cursor": row["seq"]} for row in self._store.rows_after(cursor)]

    @property
    def store_trouble(self) -> str | None:
        """Why what is entered is not on disk, and what to do; None: it is."""
        return self._store.trouble

    def received_last(self) -> datetime | None:
        """When the last event of the store was received; None: there is none, or it cannot be read."""
        try:
            return max((event.received for event in self._store.events() if event.received is not None), default=None)
        except InputError:
            return None

    @property
    def kept_in(self) -> str:
        """The address of the store, without a password."""
        return self._store.where

    def store_clock(self) -> datetime | None:
        """What the clock of the store says now; None: it has none but that of this computer."""
        return self._store.clock()

    def watch(self, heard: Callable[[], None]) -> None:
        """Have `heard` called when another server recorded something, and when the database went or came back."""
        self._store.watch(heard)

    def backup_text(self) -> str:
        """A backup of everything that was read or entered so far, whether or not the store can be reached."""
        return self._store.backup_text()

    def close(self) -> None:
        """Let go of the store."""
        self._store.close()
