"""Keeps rows in a table of a database: the part that SQLite and PostgreSQL share."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import datetime
from typing import TypeVar

import sqlalchemy as sa
from sqlalchemy.exc import SQLAlchemyError

from dashboard.core.base.problems import InputError
from dashboard.log.store.rows import (
    MAYBE_RECORDED,
    NOTHING_RECORDED,
    Judge,
    Row,
    Rows,
    Signs,
    StoreLost,
    cannot,
    checked_mark,
    refusal,
)

T = TypeVar("T")

_ESCAPES = {"\0": "\x010", "\x01": "\x011"}
_ESCAPED = {escape: char for char, escape in _ESCAPES.items()}


class Verbatim(sa.TypeDecorator[str]):
    """Any text. PostgreSQL cannot hold a NUL byte, so it is written there as two characters that no log has."""

    impl = sa.Text
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: sa.Dialect) -> str | None:
        """Convert a text for the database.

        Parameters
        ----------
        value
            The text; None is NULL.
        dialect
            Tells which database it is.

        Returns
        -------
        str or None
            The text as it is stored.
        """
        if value is None or dialect.name != "postgresql":
            return value
        return re.sub("[\0\x01]", lambda found: _ESCAPES[found[0]], value)

    def process_result_value(self, value: str | None, dialect: sa.Dialect) -> str | None:
        """Convert a text from the database.

        Parameters
        ----------
        value
            The text as it is stored; None is NULL.
        dialect
            Tells which database it is.

        Returns
        -------
        str or None
            The text as it was given.
        """
        if value is None or dialect.name != "postgresql":
            return value
        return re.sub("\x01[01]", lambda found: _ESCAPED[found[0]], value)


_META = sa.MetaData()
_ABOUT = sa.Table(
    "about", _META,
    sa.Column("key", sa.String, primary_key=True),
    sa.Column("value", Verbatim, nullable=False),
)
_EVENTS = sa.Table(
    "events", _META,
    sa.Column("seq", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("id", Verbatim, unique=True, nullable=True),  # NULL where the event was not understood
    sa.Column("received", sa.String, nullable=False),
    sa.Column("raw", Verbatim, nullable=False),
    sa.Column("status", sa.String, nullable=False),  # readable | unread
    sa.Column("why", Verbatim, nullable=True),
    sqlite_autoincrement=True,
)
_ROWS = sa.select(*(_EVENTS.c[name] for name in Row._fields)).order_by(_EVENTS.c.seq)


class SqlRows(Rows):
    """Rows in the table `events`. The table `about` holds the marks: the sortie and the format.

    Parameters
    ----------
    engine
        Connects to the database.
    where
        The address, without a password.
    signs
        What known complaints of this database mean.
    """

    def __init__(self, engine: sa.Engine, where: str, signs: Signs) -> None:
        self.where = where
        self._engine = engine
        self._signs = signs

    def open(self, wanted: Mapping[str, str]) -> str:
        try:
            with self._engine.connect() as connection:
                connection = self._for_writing(connection)
                with connection.begin():
                    return self._opened(connection, wanted)
        except SQLAlchemyError as wrong:
            self.close()
            raise cannot(self.where, wrong, self._signs) from None
        except InputError:
            self.close()
            raise

    def about(self) -> dict[str, str]:
        return self._read(_marks)

    def after(self, last: Row | None) -> list[Row]:
        return self._read(lambda connection: self._newer(connection, last))

    def add(self, last: Row | None, judge: Judge) -> list[Row]:
        rows: list[Row] = []
        is_committing = False
        try:
            with self._engine.connect() as connection:
                connection = self._for_writing(connection)
                with connection.begin():
                    self._lock(connection)
                    rows = judge(self._newer(connection, last))
                    if rows:
                        connection.execute(sa.insert(_EVENTS), [row._asdict() for row in rows])
                        self._announce(connection, rows[-1].seq)
                    is_committing = True
        except SQLAlchemyError as wrong:
            if rows and is_committing and self._holds(last, rows):
                return rows
            raise cannot(self.where, wrong, self._signs, NOTHING_RECORDED) from None
        return rows

    def watch(self, heard: Callable[[int | None], None]) -> None:
        return  # a database tells of new rows only in a class that overrides this

    def clock(self) -> datetime | None:
        return None

    def close(self) -> None:
        self._engine.dispose()

    # -- what differs between databases

    def _for_writing(self, connection: sa.Connection) -> sa.Connection:
        """The connection, set up so that its next transaction may write."""
        return connection

    def _lock(self, connection: sa.Connection) -> None:
        """Keep others from adding until the transaction ends."""

    def _announce(self, connection: sa.Connection, seq: int) -> None:
        """Tell other servers of rows up to `seq`, once the transaction is committed."""

    def _check_sound(self, connection: sa.Connection) -> None:
        """Raise an InputError when the database is damaged or set up so that it may lose events."""

    # -- in a transaction

    def _opened(self, connection: sa.Connection, wanted: Mapping[str, str]) -> str:
        tables = set(sa.inspect(connection).get_table_names())
        if tables and not {"about", "events"} <= tables:
            raise refusal(self.where, "a store of events", f"a database with the tables {', '.join(sorted(tables))}",
                          "Give another; this one is left as it is.")
        self._check_sound(connection)
        _META.create_all(connection)
        missing = checked_mark(self.where, _marks(connection), wanted)
        connection.execute(sa.update(_ABOUT).values(value=_ABOUT.c.value))  # fails now if the store cannot be written
        for key, value in missing.items():
            connection.execute(sa.insert(_ABOUT).values(key=key, value=value))
        return "" if tables else "a new store was made"

    def _newer(self, connection: sa.Connection, last: Row | None) -> list[Row]:
        """The rows after `last`. Raises StoreLost when `last` is no longer there."""
        if last is None:
            return [Row._make(found) for found in connection.execute(_ROWS)]
        found = [Row._make(row) for row in connection.execute(_ROWS.where(_EVENTS.c.seq >= last.seq))]
        if not found or found[0] != last:
            raise StoreLost(self.where, f"a store without the event that was recorded at seq {last.seq}")
        return found[1:]

    def _holds(self, last: Row | None, rows: list[Row]) -> bool:
        """Whether rows are there whose commit was not confirmed. It is looked up once that transaction is over.

        Raises
        ------
        InputError
            When it cannot be found out.
        """
        try:
            with self._engine.connect() as connection:
                connection = self._for_writing(connection)
                with connection.begin():
                    self._lock(connection)
                    return set(rows) <= set(self._newer(connection, last))
        except SQLAlchemyError as wrong:
            raise cannot(self.where, wrong, self._signs, MAYBE_RECORDED) from None

    def _read(self, read: Callable[[sa.Connection], T]) -> T:
        try:
            with self._engine.connect() as connection:
                return read(connection)
        except SQLAlchemyError as wrong:
            raise cannot(self.where, wrong, self._signs) from None


def _marks(connection: sa.Connection) -> dict[str, str]:
    return {row.key: row.value for row in connection.execute(sa.select(_ABOUT))}
