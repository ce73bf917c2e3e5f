"""Holds what was read of a store's rows: the events in order and by id, and what was not understood."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from datetime import datetime
from operator import attrgetter

from dashboard.core.base.findings import Unread
from dashboard.core.base.times import parse_instant
from dashboard.core.events.event import Event
from dashboard.core.events.kinds import UnreadableEvent
from dashboard.log.eventtext import event_of_text
from dashboard.log.store.rows import Row

_SEQ = attrgetter("seq")


class StoreContent:
    """What was read of a store. It grows only by `take`; `rows` and `events` are in the order of `seq`."""

    def __init__(self, rows: Iterable[Row] = ()) -> None:
        self.rows: list[Row] = []
        self.events: list[Event] = []
        self.by_id: dict[str, Event] = {}
        self.unread: dict[int, Unread] = {}
        self.unread_seq: dict[tuple[str, str], int] = {}  # `seq` by the text that was not understood and the reason
        self.received_last: datetime | None = None  # the latest time of receipt of an event
        self.take(rows)

    @property
    def last(self) -> Row | None:
        """The last row; None when there is none."""
        return self.rows[-1] if self.rows else None

    @property
    def last_seq(self) -> int:
        """The `seq` of the last row; 0 when there is none."""
        return self.rows[-1].seq if self.rows else 0

    def take(self, rows: Iterable[Row]) -> None:
        """Add rows.

        Parameters
        ----------
        rows
            Rows that come after those already known, in the order of `seq`.
        """
        for row in rows:
            self.rows.append(row)
            why = row.why or ""
            if row.status == "readable":
                try:
                    event = event_of_text(row.raw)
                except UnreadableEvent as wrong:  # a version that understood more wrote it
                    why = str(wrong)
                else:
                    received = parse_instant(row.received)
                    event = event.model_copy(update={"seq": row.seq, "received": received})
                    self.received_last = max(received, self.received_last or received)
                    self.events.append(event)
                    self.by_id[event.id] = event
                    continue
            self.unread[row.seq] = Unread(line=row.raw, why=why, where=f"seq {row.seq}")
            self.unread_seq.setdefault((row.raw, why), row.seq)

    def events_after(self, seq: int) -> list[Event]:
        """Give the events after a place.

        Parameters
        ----------
        seq
            Their `seq` is higher than this one.

        Returns
        -------
        list of Event
            In the order of `seq`.
        """
        return self.events[bisect_right(self.events, seq, key=_SEQ):]

    def rows_after(self, seq: int) -> list[Row]:
        """Give the rows after a place.

        Parameters
        ----------
        seq
            Their `seq` is higher than this one.

        Returns
        -------
        list of Row
            In the order of `seq`.
        """
        return self.rows[bisect_right(self.rows, seq, key=_SEQ):]
