"""The store of one sortie's events: what goes in is judged and kept, what comes out is read once."""

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
from dashboard.log.store.known import Known
from dashboard.log.store.place import place_of
from dashboard.log.store.rows import FORMAT, Row, StoreLost

TAKEN = ("recorded", "already recorded")
SAVE = (
    "Save the log now with `tetherline backup`, the address of this server and the name of a new file; or put the store "
    "back as it was, and they are added to it."
)


class EventStore:
    """Events of one sortie, kept in the order in which they came in. Safe to use from several threads.

    When the place no longer holds what was acknowledged, events are kept in memory and answered as such, `trouble` says
    so, and they are added once the place is as it was.

    Parameters
    ----------
    url : str
        ``sqlite:///sortie.db``, ``sqlite://`` for one that lives in memory only, or
        ``postgresql+psycopg://user@host/database``.
    sortie : str or None
        The sortie it must belong to; a new store is marked with it. None: not judged.

    Raises
    ------
    InputError
        When the store cannot be opened, is damaged, is something else, or belongs to another sortie.
    """

    def __init__(self, url: str, sortie: str | None = None) -> None:
        self.sortie = sortie
        self._lock = threading.RLock()
        self._known = Known()
        self._lost: StoreLost | None = None
        self._unsaved: list[Row] = []  # the last rows of `_known`, where the store is lost
        self._saved: Row | None = None  # the last row that it held before
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
        """Why what is entered is not on disk, and what to do; None: it is."""
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
        """Its address, without a password."""
        return self._place.where

    def clock(self) -> datetime | None:
        """What the clock of the place says now; None: it has none but that of this computer.

        Raises
        ------
        InputError
            When it cannot be asked.
        """
        return self._place.clock()

    def append(
        self, items: Iterable[str | Mapping[str, Any] | Quarantined | Event], received: datetime,
        also: Mapping[str, Event] | None = None,
    ) -> list[Outcome]:
        """Record items, all in one transaction; on return they are on disk, unless an outcome says otherwise.

        Parameters
        ----------
        items : iterable of str, mapping, event model or Quarantined
            JSON text is kept verbatim.
        received : datetime
            When they came in, aware.
        also : mapping or None
            Event id -> event, for events that are kept elsewhere and have their ids all the same.

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
        """The events that were understood, with `seq` and `received`, in the order of `seq`."""
        return self.events_after(0)

    def events_after(self, seq: int) -> list[Event]:
        """Those of them with a `seq` above this one; only what is new is read from the store."""
        with self._lock:
            self._read_on()
            return self._known.events_after(seq)

    def unread(self) -> list[Unread]:
        """What was not understood, verbatim, in the order of `seq`."""
        with self._lock:
            self._read_on()
            return list(self._known.unread.values())

    def rows_after(self, seq: int) -> list[dict[str, Any]]:
        """Every row after `seq`, as plain tables.

        An event comes as it was given, with the store's `seq` and `received`; what was not understood as
        ``{"seq", "received", "line", "why"}``.
        """
        with self._lock:
            self._read_on()
            rows = self._known.rows_after(seq)
        return [_plain_row(row) for row in rows]

    def watch(self, heard: Callable[[], None]) -> None:
        """Have `heard` called, on another thread, when others recorded something or the database went or came back.

        Only PostgreSQL tells; of other stores what is new is found at the next reading.
        """
        with self._lock:
            self._ears.append(heard)
            if len(self._ears) == 1:
                self._place.watch(self._heard)

    def backup_text(self) -> str:
        """A backup as JSON Lines of everything that was read so far, also of what is in memory only."""
        with self._lock:
            return backup.text_of(self._known.rows, self._about())

    def save_to(self, path: str | Path) -> int:
        """Write everything that was read so far into a new file: JSON Lines where it ends in .jsonl, else a SQLite store.

        Returns
        -------
        int
            How many rows were written.

        Raises
        ------
        InputError
            When there is such a file, or it cannot be written.
        """
        with self._lock:
            rows, about = list(self._known.rows), self._about()
        return backup.write(rows, about, Path(path))

    def close(self) -> None:
        """Let go of the store."""
        with self._lock:
            self._place.close()

    def _about(self) -> dict[str, str]:
        return {"format": FORMAT, **({"sortie": self.sortie} if self.sortie is not None else {})}

    def _found(self) -> str:
        """What was there when it was opened, in words."""
        if self._made:
            return self._made
        events, unread = len(self._known.events), len(self._known.unread)
        if self._known.last is None:
            return "no events found in it"
        more = f" and {unread} not understood" if unread else ""
        return f"{events} event{'s' * (events != 1)}{more} found in it, the last received {self._known.last.received}"

    def _read_on(self) -> None:
        """Take in the rows that were committed since, here or by another process."""
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
        """Once the place holds again what it held, add what was kept in memory; else leave everything as it is."""
        if self._lost is None:
            return
        try:
            self._place.after(self._saved)
            known = Known(self._known.rows[: len(self._known.rows) - len(self._unsaved)])
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
        why = f"it counts, but it is not on disk: the store was lost; found {self._lost.found}. {SAVE}"
        return replace(outcome, status="in memory only", why=why)


class _Judged:
    """What becomes of items, once the rows that others added meanwhile are known."""

    def __init__(
        self, known: Known, sortie: str | None, came_in: list[Given], also: Mapping[str, Event] | None = None
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
