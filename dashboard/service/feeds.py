"""Where a desk's events come from: the store of a live sortie, or a recorded run with a store laid over it.

Both take new events; what is entered while replaying stays in memory and never reaches the recorded run.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any, NamedTuple, Protocol

from dashboard.core.events import UnreadableEvent, parse_event
from dashboard.core.sortie_state import Unread
from dashboard.core.times import parse_instant
from dashboard.log.eventtext import same_content
from dashboard.log.store import EventStore, Outcome
from replay.recording import RecordedRun


class Known(NamedTuple):
    """What the room has at one instant."""

    events: list[Any]
    unread: list[Unread]


class Feed(Protocol):
    """A source of events that also takes new ones. Safe to use from several threads."""

    def read(self, now: datetime) -> Known:
        """What the room has at `now`."""

    def append(self, items: Sequence[Any], received: datetime) -> list[Outcome]:
        """Take events as they came; one outcome each, in the same order."""

    def rows_after(self, seq: int, now: datetime) -> list[dict[str, Any]]:
        """The rows with a `seq` above this one that the room has at `now`, as plain mappings.

        What could not be understood comes with its `line` and `why`.
        """

    def close(self) -> None:
        """Let go of the store."""


class LiveFeed:
    """The store of a live sortie."""

    def __init__(self, store: EventStore) -> None:
        self._store = store

    def read(self, now: datetime) -> Known:
        """What the room has; `now` does not matter, since nothing is received ahead of time."""
        return Known(self._store.events(), self._store.unread())

    def append(self, items: Sequence[Any], received: datetime) -> list[Outcome]:
        """Take events as they came; acknowledged only once on disk."""
        return self._store.append(items, received)

    def rows_after(self, seq: int, now: datetime) -> list[dict[str, Any]]:
        """The rows with a `seq` above this one, as plain mappings."""
        return self._store.rows_after(seq)

    def close(self) -> None:
        """Let go of the store."""
        self._store.close()


class ReplayFeed:
    """A recorded run, and what people enter while it is replayed."""

    def __init__(self, run: RecordedRun) -> None:
        self._run = run
        self._recorded = {event.id: event for event in run.events}
        self._highest_seq = max((event.seq or 0 for event in run.events), default=0)
        self._overlay = EventStore("sqlite://")
        self._lock = threading.Lock()

    def read(self, now: datetime) -> Known:
        """What the room had at `now`, and what was entered in the replay up to there."""
        entered = [event for event in self._entered() if event.received <= now]
        return Known(self._run.known_at(now) + entered, self._run.unread_at(now) + self._overlay.unread())

    def append(self, items: Sequence[Any], received: datetime) -> list[Outcome]:
        """Take events as they came, as received at this instant of the replay."""
        with self._lock:
            return [self._outcome(item) or self._enter(item, received) for item in items]

    def rows_after(self, seq: int, now: datetime) -> list[dict[str, Any]]:
        """The rows with a `seq` above this one that the room has at `now`, as plain mappings."""
        recorded = [
            event.model_dump(mode="json", by_alias=True, exclude_none=True)
            for event in self._run.known_at(now)
            if (event.seq or 0) > seq
        ]
        entered = [
            {**row, "seq": self._highest_seq + row["seq"]}
            for row in self._overlay.rows_after(max(0, seq - self._highest_seq))
            if parse_instant(row["received"]) <= now
        ]
        return sorted(recorded, key=lambda row: row.get("seq", 0)) + entered

    def close(self) -> None:
        """Let go of the store."""
        self._overlay.close()

    def _entered(self) -> list[Any]:
        return [
            event.model_copy(update={"seq": self._highest_seq + (event.seq or 0)})
            for event in self._overlay.events()
        ]

    def _enter(self, item: Any, received: datetime) -> Outcome:
        outcome = self._overlay.append([item], received)[0]
        return replace(outcome, seq=self._highest_seq + outcome.seq)

    def _outcome(self, item: Any) -> Outcome | None:
        """What becomes of an item whose id the recorded run has already; None: it is new."""
        try:
            event = parse_event(item)
        except UnreadableEvent:
            return None
        there = self._recorded.get(event.id)
        if there is None:
            return None
        if same_content(event, there):
            return Outcome("already recorded", event.id, there.seq or 0)
        why = f"the id '{event.id}' is that of another event; give each event its own id"
        return Outcome("conflict", event.id, there.seq or 0, why)
