"""The append-only store of events: one table, in SQLite by default, another database by its URL.

An event is acknowledged only when it is on disk. Nothing is changed or removed: what cannot be understood, and
what claims the id of another event, is kept verbatim with the reason.
"""

from __future__ import annotations

import threading
from collections import ChainMap
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

import sqlalchemy as sa
from sqlalchemy.exc import ArgumentError, SQLAlchemyError
from sqlalchemy.pool import StaticPool

from dashboard.core.base.findings import Unread
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.base.times import instant_text, parse_instant
from dashboard.core.events.event import Event
from dashboard.core.events.kinds import UnreadableEvent
from dashboard.log.eventtext import (
    difference,
    event_of_text,
    same_content,
    table_of_text,
    text_of_event,
    text_of_table,
)

BUSY_SECONDS = 30
FORMAT = "1"

_META = sa.MetaData()
_ABOUT = sa.Table(
    "about", _META,
    sa.Column("key", sa.String, primary_key=True),
    sa.Column("value", sa.Text, nullable=False),
)
_EVENTS = sa.Table(
    "events", _META,
    sa.Column("seq", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("id", sa.String, unique=True, nullable=True),  # NULL where the event was not understood
    sa.Column("received", sa.String, nullable=False),
    sa.Column("raw", sa.Text, nullable=False),
    sa.Column("status", sa.String, nullable=False),  # readable | unread
    sa.Column("why", sa.Text, nullable=True),
    sqlite_autoincrement=True,
)


@dataclass(frozen=True)
class Outcome:
    """What became of one item handed to the store.

    Parameters
    ----------
    status : str
        ``recorded``, ``already recorded`` (the same event came before), ``conflict`` (another event has this id) or
        ``unread`` (not understood), or ``quarantined`` (understood, but the state cannot be computed with it). The last
        three are kept verbatim among the unread.
    id : str or None
        The id that the item gives.
    seq : int
        Place of the row in the store.
    why : str or None
        The reason, in words, for a conflict or an unread item.
    """

    status: Literal["recorded", "already recorded", "conflict", "unread", "quarantined"]
    id: str | None
    seq: int
    why: str | None = None


@dataclass(frozen=True)
class Quarantined:
    """An item that is kept verbatim among the unread, for a reason that only the caller knows."""

    item: str | Mapping[str, Any]
    why: str


class EventStore:
    """Events of one sortie, kept in the order in which they came in.

    Parameters
    ----------
    url : str
        Such as ``sqlite:///sortie.db``, or ``sqlite://`` for one that lives in memory only.
    sortie : str or None
        The sortie it must belong to; a new store is marked with it. None: not judged.

    Raises
    ------
    InputError
        When the store cannot be opened, is damaged, is something else, or belongs to another sortie.
    """

    def __init__(self, url: str, sortie: str | None = None) -> None:
        self.url = url
        self.sortie = sortie
        self._lock = threading.RLock()
        self._events: list[Event] = []
        self._by_id: dict[str, Event] = {}
        self._unread: dict[int, Unread] = {}
        self._last_seq = 0
        self._engine = _engine(url)
        try:
            self._open()
        except SQLAlchemyError as wrong:
            self._engine.dispose()
            raise _cannot(url, wrong) from None
        except InputError:
            self._engine.dispose()
            raise

    def append(
        self, items: Iterable[str | Mapping[str, Any] | Quarantined | Event], received: datetime,
        also: Mapping[str, Event] | None = None,
    ) -> list[Outcome]:
        """Record items, all in one transaction; on return they are on disk.

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
            When the store cannot be written; then none of the items is recorded.
        """
        given = [(item.item, item.why) if isinstance(item, Quarantined) else (item, None) for item in items]
        texts = [(_text(item), why) for item, why in given]
        with self._lock:
            try:
                with self._engine.connect() as connection:
                    connection = connection.execution_options(tetherline_begin="IMMEDIATE")
                    with connection.begin():
                        self._refresh(connection)
                        by_id = ChainMap(self._by_id, dict(also or {}))
                        batch = _Batch(connection, by_id, self._unread, instant_text(received), self.sortie)
                        outcomes = [batch.put(text) if why is None else batch.hold(text, why) for text, why in texts]
                    with connection.begin():
                        self._refresh(connection)
            except SQLAlchemyError as wrong:
                raise _cannot(self.url, wrong) from None
            return outcomes

    def events(self) -> list[Event]:
        """The events that were understood, with `seq` and `received`, in the order of `seq`."""
        with self._lock:
            self._read_on()
            return list(self._events)

    def unread(self) -> list[Unread]:
        """What was not understood, verbatim, in the order of `seq`."""
        with self._lock:
            self._read_on()
            return list(self._unread.values())

    def rows_after(self, seq: int) -> list[dict[str, Any]]:
        """Every row after `seq`, as plain tables.

        An event comes as it was given, with the store's `seq` and `received`; what was not understood as
        ``{"seq", "received", "line", "why"}``.
        """
        query = sa.select(_EVENTS).where(_EVENTS.c.seq > seq).order_by(_EVENTS.c.seq)
        with self._lock:
            try:
                with self._engine.connect() as connection:
                    rows = connection.execute(query).all()
            except SQLAlchemyError as wrong:
                raise _cannot(self.url, wrong) from None
        return [_plain_row(row) for row in rows]

    def close(self) -> None:
        """Let go of the database."""
        with self._lock:
            self._engine.dispose()

    def _open(self) -> None:
        with self._engine.connect() as connection:
            connection = connection.execution_options(tetherline_begin="IMMEDIATE")
            with connection.begin():
                tables = set(sa.inspect(connection).get_table_names())
                if tables and not {"about", "events"} <= tables:
                    found = f"a database with the tables {', '.join(sorted(tables))}"
                    raise _refusal(self.url, "a store of events", found,
                                   "Name another file; it is left as it is.")
                if self._engine.dialect.name == "sqlite":
                    state = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar()
                    if state != "ok":
                        raise _refusal(self.url, "a sound database", f"a damaged one ({state})", _DAMAGED_CURE)
                _META.create_all(connection)
                about = {row.key: row.value for row in connection.execute(sa.select(_ABOUT))}
                self._mark(connection, about)
                self._refresh(connection)

    def _mark(self, connection: sa.Connection, about: Mapping[str, str]) -> None:
        if about.get("format", FORMAT) != FORMAT:
            raise _refusal(self.url, f"a store of format {FORMAT}", f"one of format {about['format']}",
                           "Open it with the version that wrote it.")
        if self.sortie is not None and about.get("sortie", self.sortie) != self.sortie:
            raise _refusal(self.url, f"the store of sortie '{self.sortie}'", f"the store of sortie '{about['sortie']}'",
                           "Choose the plan of that sortie, or another store.")
        wanted = {"format": FORMAT, **({"sortie": self.sortie} if self.sortie is not None else {})}
        connection.execute(sa.update(_ABOUT).values(value=_ABOUT.c.value))  # a store that cannot be written shows now
        for key in wanted.keys() - about.keys():
            connection.execute(sa.insert(_ABOUT).values(key=key, value=wanted[key]))

    def _read_on(self) -> None:
        try:
            with self._engine.connect() as connection:
                self._refresh(connection)
        except SQLAlchemyError as wrong:
            raise _cannot(self.url, wrong) from None

    def _refresh(self, connection: sa.Connection) -> None:
        """Take in the rows that were committed since, here or by another process."""
        query = sa.select(_EVENTS).where(_EVENTS.c.seq > self._last_seq).order_by(_EVENTS.c.seq)
        for row in connection.execute(query):
            self._last_seq = row.seq
            why = row.why or ""
            if row.status == "readable":
                try:
                    event = event_of_text(row.raw)
                except UnreadableEvent as wrong:  # written by a version that understood more
                    why = str(wrong)
                else:
                    event = event.model_copy(update={"seq": row.seq, "received": parse_instant(row.received)})
                    self._events.append(event)
                    self._by_id[event.id] = event
                    continue
            self._unread[row.seq] = Unread(line=row.raw, why=why, where=f"seq {row.seq}")


class _Batch:
    """Items of one transaction, judged against what the store holds and against each other."""

    def __init__(
        self, connection: sa.Connection, by_id: Mapping[str, Event], unread: Mapping[int, Unread], received: str,
        sortie: str | None,
    ) -> None:
        self.connection = connection
        self.by_id = by_id
        self.new: dict[str, Event] = {}
        self.unread = {(row.line, row.why): seq for seq, row in unread.items()}
        self.received = received
        self.sortie = sortie

    def put(self, text: str) -> Outcome:
        try:
            event = event_of_text(text)
            if self.sortie is not None and event.sortie not in (None, self.sortie):
                raise UnreadableEvent(f"expected an event of sortie '{self.sortie}'; found one of '{event.sortie}'")
        except UnreadableEvent as wrong:
            claimed = _claimed_id(text)
            return Outcome("unread", claimed, self._keep(text, str(wrong), repeatable=claimed is None), str(wrong))
        first = self.by_id.get(event.id) or self.new.get(event.id)
        if first is None:
            seq = self._insert(id=event.id, raw=text, status="readable")
            self.new[event.id] = event.model_copy(update={"seq": seq})
            return Outcome("recorded", event.id, seq)
        if same_content(first, event):
            return Outcome("already recorded", event.id, first.seq or 0)
        why = (
            f"expected one event with the id '{event.id}'; found a second one that differs in "
            f"{difference(first, event)} (the first, seq {first.seq}, stands)"
        )
        return Outcome("conflict", event.id, self._keep(text, why, repeatable=False), why)

    def hold(self, text: str, why: str) -> Outcome:
        """Keep an item in quarantine; the same item for the same reason is kept once."""
        return Outcome("quarantined", _claimed_id(text), self._keep(text, why, repeatable=False), why)

    def _keep(self, text: str, why: str, repeatable: bool) -> int:
        """Keep what is not understood; the same item sent again with its id is kept once."""
        seq = None if repeatable else self.unread.get((text, why))
        if seq is None:
            seq = self._insert(id=None, raw=text, status="unread", why=why)
            self.unread[text, why] = seq
        return seq

    def _insert(self, **values: Any) -> int:
        done = self.connection.execute(sa.insert(_EVENTS).values(received=self.received, **values))
        key = done.inserted_primary_key
        assert key is not None
        return int(key[0])


def _plain_row(row: Any) -> dict[str, Any]:
    added = {"seq": row.seq, "received": row.received}
    if row.status == "readable":
        return {**table_of_text(row.raw), **added}
    return {**added, "line": row.raw, "why": row.why}


def _text(item: str | Mapping[str, Any] | Event) -> str:
    if isinstance(item, str):
        return item.encode("utf-8", "backslashreplace").decode("utf-8")
    return text_of_table(item) if isinstance(item, Mapping) else text_of_event(item)


def _claimed_id(text: str) -> str | None:
    try:
        claimed = table_of_text(text).get("id")
    except UnreadableEvent:
        return None
    return claimed if isinstance(claimed, str) else None


# --- opening --------------------------------------------------------------------------------------

_DAMAGED_CURE = "Keep the file as evidence; go on with a new store and enter what is missing from the last export."


def _engine(url: str) -> sa.Engine:
    try:
        parsed = sa.make_url(url)
        if parsed.get_backend_name() != "sqlite":
            return sa.create_engine(parsed, pool_pre_ping=True)
    except (ArgumentError, ImportError, SQLAlchemyError) as wrong:
        found = f"'{_shown(url)}' ({_first(wrong)})"
        raise _refusal(url, "the address of a database, such as sqlite:///sortie.db", found,
                       "Write sqlite:/// and the path of the file, or install the driver of that database.") from None
    in_memory = parsed.database in (None, "", ":memory:")
    if not in_memory:
        _refuse_bad_path(url, str(parsed.database))
    settings: dict[str, Any] = {"connect_args": {"timeout": BUSY_SECONDS, "check_same_thread": False}}
    engine = sa.create_engine(parsed, **settings, **({"poolclass": StaticPool} if in_memory else {}))
    sa.event.listen(engine, "connect", _set_up_sqlite)
    sa.event.listen(engine, "begin", _begin_sqlite)
    return engine


def _refuse_bad_path(url: str, database: str) -> None:
    if database.startswith("file:"):
        return
    path = Path(database)
    if path.is_dir():
        raise _refusal(url, "a store file", "a folder", "Name a file inside it.")
    if not path.parent.is_dir():
        raise _refusal(url, "a folder to keep the store in", f"no folder {path.parent}", "Make it, or choose another.")


def _set_up_sqlite(connection: Any, _record: Any) -> None:
    connection.isolation_level = None  # transactions are begun by _begin_sqlite
    cursor = connection.cursor()
    cursor.execute("PRAGMA journal_mode = WAL")
    cursor.execute("PRAGMA synchronous = FULL")
    cursor.close()


def _begin_sqlite(connection: sa.Connection) -> None:
    how = connection.get_execution_options().get("tetherline_begin", "DEFERRED")
    connection.exec_driver_sql(f"BEGIN {how}")


def _cannot(url: str, wrong: Exception) -> InputError:
    text = _first(wrong)
    for sign, found, cure in (
        ("not a database", "a file of another kind, or a damaged store", "Name another file; it is left as it is."),
        ("malformed", "a damaged store", _DAMAGED_CURE),
        ("readonly", "a store that cannot be written", "Make the file and its folder writable, or choose another."),
        ("unable to open", "a file that cannot be opened", "Check the path and its permissions."),
        ("locked", "a store that another program keeps locked", "Close the other program; try again."),
        ("full", "no room left on the disk", "Make room, then send the event again."),
    ):
        if sign in text:
            return _refusal(url, "a store of events", f"{found} ({text})", cure)
    return _refusal(url, "a store of events", text, "Check the address of the store.")


def _first(wrong: Exception) -> str:
    return str(getattr(wrong, "orig", None) or wrong).split("\n", 1)[0]


def _refusal(url: str, expected: str, found: str, cure: str) -> InputError:
    return InputError([Problem("event store", expected, found, cure, _shown(url))])


def _shown(url: str) -> str:
    """The address without its password."""
    try:
        return sa.make_url(url).render_as_string(hide_password=True)
    except ArgumentError:
        return url
