"""The store of one sortie's events. It judges and keeps what comes in, and reads each row once."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from dashboard.core.base.findings import Unread
from dashboard.core.base.problems import InputError
from dashboard.core.base.times import instant_text
from dashboard.core.events.event import Event
from dashboard.log.eventtext import table_of_text
from dashboard.log.store import backup
from dashboard.log.store.batch import Batch, Given, Outcome, Quarantined, given
from dashboard.log.store.known import StoreContent
from dashboard.log.store.place import place_of
from dashboard.log.store.rows import FORMAT, Row, StoreLost

TAKEN = ("recorded", "already recorded")
SAVE = (
    "Save the log now: run `tetherline backup` with the address of this server and the name of a new file. Or put the store "
    "back as it was; the entries are then added to it."
)


class EventStore:
    """Events of one sortie, kept in the order in which they came in. Safe to use from several threads.

    When the place no longer holds what was acknowledged, new events are kept in memory and answered as such, and `trouble` says
    so. They are added once the place is as it was.

    Parameters
    ----------
    url
        ``sqlite:///sortie.db``, ``sqlite://`` for a store in memory only, or ``postgresql+psycopg://user@host/database``.
    sortie
        The sortie that the store must belong to; a new store is marked with it. None: this is not checked.

    Raises
    ------
    InputError
        When the store cannot be opened, is damaged, is something else, or belongs to another sortie.
    """

    def __init__(self, url: str, sortie: str | None = None) -> None:
        self.sortie = sortie
        self._lock = threading.RLock()
        self._known = StoreContent()
        self._lost: StoreLost | None = None
        self._unsaved: list[Row] = []  # while the store is lost: the last rows of `_known`
        self._saved: Row | None = None  # while the store is lost: the last row that it held
        self._ears: list[Callable[[], None]] = []
        self._place = place_of(url)
        self._made = self._place.open({"format": FORMAT, **({"sortie": sortie} if sortie is not None else {})})
        try:
            self._read_on()
        except InputError:
            self._place.close()
            raise
        self.opening = self._found()

    @property
    def trouble(self) -> str | None:
        """Why new entries are not on disk, and what to do; None when they are on disk."""
        lost, unsaved = self._lost, len(self._unsaved)
        if lost is None:
            return None
        entries = f"{unsaved} entr{'y' if unsaved == 1 else 'ies'} since then {'is' if unsaved == 1 else 'are'}"
        return (
            f"The log is not on disk: expected the store that this server opened; found {lost.found}. {entries} in memory "
            f"only and would be lost with this server. {SAVE}"
        )

    @property
    def where(self) -> str:
        """The address, without a password."""
        return self._place.where

    def clock(self) -> datetime | None:
        """Ask the clock of the place. None: it has no clock but that of this computer.

        Raises
        ------
        InputError
            When the place cannot be asked.
        """
        return self._place.clock()

    def append(
        self, items: Iterable[str | Mapping[str, Any] | Quarantined | Event], received: datetime,
        also: Mapping[str, Event] | None = None,
    ) -> list[Outcome]:
        """Record items in one transaction. On return they are on disk, unless an outcome says otherwise.

        Parameters
        ----------
        items
            JSON text (kept verbatim), tables, events, or items in quarantine.
        received
            When they came in; aware.
        also
            Event by id, for events that are kept elsewhere and whose ids are taken; None: there are none.

        Returns
        -------
        list of Outcome
            Outcome of each item, in the order of the items.

        Raises
        ------
        InputError
            When the store cannot be written; it says whether the items were recorded.
        """
        came_in = [given(item, instant_text(received)) for item in items]
        with self._lock:
            self._come_back()
            judged = _Judged(self._known, self.sortie, came_in, also)
            if self._lost is None:
                try:
                    self._known.take(self._place.add(self._known.last, judged))
                    return judged.outcomes
                except StoreLost as lost:
                    self._lose(lost)
            rows = judged([])
            self._unsaved += rows
            self._known.take(rows)
            return [self._not_saved(outcome) for outcome in judged.outcomes]

    def events(self) -> list[Event]:
        """Give the events that were understood, with `seq` and `received`, in the order of `seq`."""
        return self.events_after(0)

    def events_after(self, seq: int) -> list[Event]:
        """Give the understood events after a place. Only what is new is read from the store.

        Parameters
        ----------
        seq
            Their `seq` is higher than this one.

        Returns
        -------
        list of Event
            With `seq` and `received`, in the order of `seq`.
        """
        with self._lock:
            self._read_on()
            return self._known.events_after(seq)

    def by_id(self) -> dict[str, Event]:
        """Give the events that were understood by their id."""
        with self._lock:
            self._read_on()
            return dict(self._known.by_id)

    def received_last(self) -> datetime | None:
        """Give the latest time at which an event was received; None: there is no event."""
        with self._lock:
            self._read_on()
            return self._known.received_last

    def unread(self) -> list[Unread]:
        """Give what was not understood, verbatim, in the order of `seq`."""
        with self._lock:
            self._read_on()
            return list(self._known.unread.values())

    def rows_after(self, seq: int) -> list[dict[str, Any]]:
        """Give the rows after a place as plain tables.

        Parameters
        ----------
        seq
            Their `seq` is higher than this one.

        Returns
        -------
        list of dict
            An event comes as it was given, with `seq` and `received` of the store. What was not understood comes as
            ``{"seq", "received", "line", "why"}``.
        """
        with self._lock:
            self._read_on()
            rows = self._known.rows_after(seq)
        return [_plain_row(row) for row in rows]

    def watch(self, heard: Callable[[], None]) -> None:
        """Have a function called when others recorded something, or when the database was lost or came back.

        Only PostgreSQL tells of it. With other stores, new rows are found at the next reading.

        Parameters
        ----------
        heard
            Called without arguments, on another thread.
        """
        with self._lock:
            self._ears.append(heard)
            if len(self._ears) == 1:
                self._place.watch(self._heard)

    def backup_text(self) -> str:
        """Write a backup as JSON Lines of everything that was read so far, including what is in memory only."""
        with self._lock:
            return backup.text_of(self._known.rows, self._about())

    def save_to(self, path: str | Path) -> int:
        """Write everything that was read so far into a new file.

        Parameters
        ----------
        path
            The new file. A name that ends in .jsonl gives JSON Lines, any other name a SQLite store.

        Returns
        -------
        int
            How many rows were written.

        Raises
        ------
        InputError
            When the file exists or cannot be written.
        """
        with self._lock:
            rows, about = list(self._known.rows), self._about()
        return backup.write(rows, about, Path(path))

    def close(self) -> None:
        """Release the store."""
        with self._lock:
            self._place.close()

    def _about(self) -> dict[str, str]:
        return {"format": FORMAT, **({"sortie": self.sortie} if self.sortie is not None else {})}

    def _found(self) -> str:
        """What was there when the store was opened, in words."""
        if self._made:
            return self._made
        events, unread = len(self._known.events), len(self._known.unread)
        if self._known.last is None:
            return "no events found in it"
        more = f" and {unread} not understood" if unread else ""
        return f"{events} event{'s' * (events != 1)}{more} found in it, the last received {self._known.last.received}"

    def _read_on(self) -> None:
        """Read the rows that were committed since, by this process or by others."""
        self._come_back()
        if self._lost is None:
            try:
                self._known.take(self._place.after(self._known.last))
            except StoreLost as lost:
                self._lose(lost)

    def _heard(self, seq: int | None) -> None:
        with self._lock:
            is_new = seq is None or seq > self._known.last_seq
            ears = list(self._ears)
        if is_new:
            for heard in ears:
                heard()

    # -- a store that was lost

    def _lose(self, lost: StoreLost) -> None:
        self._lost, self._saved = lost, self._known.last

    def _come_back(self) -> None:
        """Add what was kept in memory once the place holds again what it held. Until then nothing changes."""
        if self._lost is None:
            return
        try:
            self._place.after(self._saved)
            known = StoreContent(self._known.rows[: len(self._known.rows) - len(self._unsaved)])
            judged = _Judged(known, self.sortie, [Given(row.raw, row.received, row.why) for row in self._unsaved])
            known.take(self._place.add(known.last, judged))
        except StoreLost as lost:
            self._lost = lost
        except InputError:
            return
        else:
            self._known, self._lost, self._unsaved = known, None, []

    def _not_saved(self, outcome: Outcome) -> Outcome:
        first_unsaved = self._unsaved[0].seq if self._unsaved else self._known.last_seq + 1
        if outcome.status not in TAKEN or outcome.seq < first_unsaved:
            return outcome
        assert self._lost is not None
        why = f"it counts, but it is not on disk, since the store was lost: found {self._lost.found}. {SAVE}"
        return replace(outcome, status="in memory only", why=why)


class _Judged:
    """Judges items once the rows that others added meanwhile are known. Calling it gives the rows to add."""

    def __init__(
        self, known: StoreContent, sortie: str | None, came_in: list[Given], also: Mapping[str, Event] | None = None
    ) -> None:
        self.outcomes: list[Outcome] = []
        self._known = known
        self._sortie = sortie
        self._came_in = came_in
        self._also = also

    def __call__(self, newer: list[Row]) -> list[Row]:
        self._known.take(newer)
        batch = Batch(self._known, self._sortie, self._also)
        for item in self._came_in:
            batch.put(item)
        self.outcomes = batch.outcomes
        return batch.rows


def _plain_row(row: Row) -> dict[str, Any]:
    added = {"seq": row.seq, "received": row.received}
    if row.status == "readable":
        return {**table_of_text(row.raw), **added}
    return {**added, "line": row.raw, "why": row.why}
