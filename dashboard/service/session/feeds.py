"""Where a desk's events come from: the store of a live sortie, or a recorded run with a store laid over it.

Both take new events; what is entered while replaying stays in memory and never reaches the recorded run.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any, NamedTuple, Protocol

from dashboard.core.base.findings import Unread
from dashboard.core.base.times import instant_text, parse_instant
from dashboard.log.store import EventStore, Outcome
from replay.recording import RecordedRun


class Known(NamedTuple):
    """What the room has at one instant."""

    events: list[Any]
    unread: list[Unread]


class Feed(Protocol):
    """A source of events that also takes new ones. Safe to use from several threads.

    `rehearsed_from` is the instant from which decisions are made here in place of recorded ones; None: no rehearsal.
    `rehearsal` says in words of which run this is a rehearsal, made here or replayed; empty: of none.
    """

    @property
    def rehearsed_from(self) -> datetime | None: ...

    @property
    def rehearsal(self) -> str: ...

    def read(self, now: datetime) -> Known:
        """What the room has at `now`."""

    def append(self, items: Sequence[Any], received: datetime) -> list[Outcome]:
        """Take events as they came; one outcome each, in the same order."""

    def rows_after(self, cursor: int, now: datetime) -> list[dict[str, Any]]:
        """The rows with a `cursor` above this one that the room has at `now`, as plain mappings in that order.

        Whoever asks again with the `cursor` of the last row misses nothing. What could not be understood comes with its
        `line` and `why`.
        """

    def close(self) -> None:
        """Let go of the store."""


class LiveFeed:
    """The store of a live sortie."""

    rehearsed_from: datetime | None = None
    rehearsal = ""

    def __init__(self, store: EventStore) -> None:
        self._store = store

    def read(self, now: datetime) -> Known:
        """What the room has; `now` does not matter, since nothing is received ahead of time."""
        return Known(self._store.events(), self._store.unread())

    def append(self, items: Sequence[Any], received: datetime) -> list[Outcome]:
        """Take events as they came; acknowledged only once on disk."""
        return self._store.append(items, received)

    def rows_after(self, cursor: int, now: datetime) -> list[dict[str, Any]]:
        """The rows with a `cursor` above this one; it is their `seq`, since that counts in order of receipt."""
        return [{**row, "cursor": row["seq"]} for row in self._store.rows_after(cursor)]

    def close(self) -> None:
        """Let go of the store."""
        self._store.close()


class ReplayFeed:
    """A recorded run, and what people enter while it is replayed.

    What is entered has a `seq` above the whole run, so that it counts after what the run says of the same instant.
    """

    rehearsed_from: datetime | None = None

    def __init__(self, run: RecordedRun) -> None:
        self._run = run
        self._recorded = {event.id: event for event in run.events}
        self._highest_seq = max((event.seq or 0 for event in run.events), default=0)
        self._overlay = EventStore("sqlite://")
        self._lock = threading.Lock()
        self._cursors: dict[tuple[str, int | str], int] = {}
        self._last_cursor = 0

    @property
    def rehearsal(self) -> str:
        """Of which run it is a rehearsal, in words; empty: of none."""
        return self._run.rehearsal

    def read(self, now: datetime) -> Known:
        """What the room had at `now`, and what was entered in the replay up to there."""
        entered = [event for event in self._entered() if event.received <= now]
        return Known(self._run.known_at(now) + entered, self._run.unread_at(now) + self._unread(now))

    def append(self, items: Sequence[Any], received: datetime) -> list[Outcome]:
        """Take events as they came, as received at this instant of the replay.

        What claims the id of an event of the run and says something else is kept among the unread, as it would be live.
        """
        outcomes = self._overlay.append(items, received, also=self._recorded)
        return [
            outcome
            if outcome.status == "already recorded" and outcome.id in self._recorded
            else replace(outcome, seq=self._highest_seq + outcome.seq)
            for outcome in outcomes
        ]

    def rows_after(self, cursor: int, now: datetime) -> list[dict[str, Any]]:
        """The rows with a `cursor` above this one that the room has at `now`.

        A row gets its `cursor` when it is first had, above all given before, and loses it when the clock goes back
        behind it: had once more, it comes once more. So nobody misses a row, wherever the clock went meanwhile.
        """
        rows = self._rows(now)
        with self._lock:
            self._cursors = {key: at for key, at in self._cursors.items() if key in rows}
            new = [key for key in rows if key not in self._cursors]
            for key in sorted(new, key=lambda key: _received(rows[key])):
                self._last_cursor += 1
                self._cursors[key] = self._last_cursor
            wanted = sorted((at, key) for key, at in self._cursors.items() if at > cursor)
        return [{**rows[key], "cursor": at} for at, key in wanted]

    def close(self) -> None:
        """Let go of the store."""
        self._overlay.close()

    def _entered(self) -> list[Any]:
        return [
            event.model_copy(update={"seq": self._highest_seq + (event.seq or 0)}) for event in self._overlay.events()
        ]

    def _rows(self, now: datetime) -> dict[tuple[str, int | str], dict[str, Any]]:
        """Everything that the room has at `now`, by what it is and its place there."""
        rows: dict[tuple[str, int | str], dict[str, Any]] = {
            ("run", place): event.model_dump(mode="json", by_alias=True, exclude_none=True)
            for place, event in enumerate(self._run.known_at(now))
        }
        for place, (since, unread) in enumerate(self._run.unread):
            if since is None or since <= now:
                received = None if since is None else instant_text(since)
                rows["line", place] = {"received": received, "line": unread.line, "why": unread.why}
        for row in self._overlay.rows_after(0):
            if parse_instant(row["received"]) <= now:
                rows["entered", row["seq"]] = {**row, "seq": self._highest_seq + row["seq"]}
        return rows

    def _unread(self, now: datetime) -> list[Unread]:
        if not self._overlay.unread():
            return []
        return [
            Unread(line=row["line"], why=row["why"], where=f"entered, seq {self._highest_seq + row['seq']}")
            for row in self._overlay.rows_after(0)
            if "line" in row and parse_instant(row["received"]) <= now
        ]


def _received(row: dict[str, Any]) -> datetime:
    """When a row came in; one of which that is not known was there before the others."""
    return parse_instant(row["received"]) if row.get("received") else datetime.min.replace(tzinfo=UTC)
