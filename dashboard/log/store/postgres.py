"""Keeps rows in PostgreSQL. Several servers may share them, and each hears of the others' rows within milliseconds.

`seq` counts in the order of commit: while one adds, it locks the table until the commit. So no reader can miss a row that is
committed after one with a higher `seq`.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import SQLAlchemyError

from dashboard.log.store.rows import Signs, refusal
from dashboard.log.store.sql import SqlRows

CHANNEL = "tetherline_events"
OPENING_LOCK = 7_305_448_112  # any number that no other program uses: two servers must not make the tables at once
PAUSE_S = 0.25
LONGEST_WAIT_S = 0.5
# A network that loses packets must not block the server.
CONNECTION = {
    "connect_timeout": 5, "keepalives_idle": 5, "keepalives_interval": 2, "keepalives_count": 3, "tcp_user_timeout": 10_000,
    "client_encoding": "utf8", "application_name": "tetherline",
}
SESSION = (
    "SET lock_timeout = '10s'",
    "SET statement_timeout = '30s'",
    "SET idle_in_transaction_session_timeout = '30s'",  # a server that hangs must not keep the table locked
    "SELECT set_config('synchronous_commit', 'on', false) WHERE current_setting('synchronous_commit') = 'off'",
)
NEEDED = {"fsync": ("on", "one that writes to its disk"), "server_encoding": ("UTF8", "one in the encoding UTF8")}

_GONE = "a database that cannot be reached"
_BACK = "Is it running? A server that follows a sortie tries again by itself."
SIGNS: Signs = (
    ("authentication failed", "a database that refuses the sign-in", "Check the user and the password in the address."),
    ("no pg_hba.conf entry", "a database that refuses the sign-in", "Have this computer added to its pg_hba.conf."),
    ("does not exist", "a database or table that is missing", "Make the database, or check its name in the address."),
    ("permission denied", "a user with too few rights", "Give the user the right to make tables, read and insert."),
    ("read-only", "a database that cannot be written", "Name the primary server in the address."),
    ("lock timeout", "a store that another program keeps locked", "Close the other program; try again."),
    ("No space left", "no room left on the disk", "Make room, then send the event again."),
    *((sign, _GONE, _BACK) for sign in (
        "connection failed", "connection refused", "connection timeout", "server closed the connection",
        "terminating connection", "connection is lost", "connection is bad", "connection is closed", "shutting down",
        "starting up", "consuming input failed", "could not receive data", "could not send data", "SSL",
    )),
)


class PostgresRows(SqlRows):
    """Rows in one database.

    Parameters
    ----------
    url
        Address of the database.
    where
        The address without its password.
    """

    def __init__(self, url: sa.URL, where: str) -> None:
        settings = {key: value for key, value in CONNECTION.items() if key not in url.query}
        engine = sa.create_engine(url, connect_args=settings, pool_pre_ping=True, pool_size=2)
        sa.event.listen(engine, "connect", _set_up)
        super().__init__(engine, where, SIGNS)
        self._closed = threading.Event()

    def watch(self, heard: Callable[[int | None], None]) -> None:
        threading.Thread(target=self._listen, args=(heard,), name="store listener", daemon=True).start()

    def clock(self) -> datetime | None:
        told: datetime = self._read(lambda connection: connection.execute(sa.select(sa.func.clock_timestamp())).scalar_one())
        return told.astimezone(UTC)

    def close(self) -> None:
        self._closed.set()  # the listener closes its own connection
        super().close()

    def _listen(self, heard: Callable[[int | None], None]) -> None:
        is_connected = True
        while not self._closed.is_set():
            try:
                with self._engine.connect() as connection:
                    connection = connection.execution_options(isolation_level="AUTOCOMMIT")
                    connection.exec_driver_sql(f"LISTEN {CHANNEL}")
                    is_connected = True
                    heard(None)  # rows may have come while nobody listened
                    self._hear(connection, heard)
            except (SQLAlchemyError, self._driver_error()):
                if is_connected:
                    is_connected = False
                    heard(None)
                self._closed.wait(PAUSE_S)

    def _hear(self, connection: sa.Connection, heard: Callable[[int | None], None]) -> None:
        driver: Any = connection.connection.driver_connection
        try:
            while not self._closed.is_set():
                for told in driver.notifies(timeout=LONGEST_WAIT_S, stop_after=1):
                    heard(int(told.payload))
        finally:
            with suppress(SQLAlchemyError):
                connection.invalidate()  # it listens, so it must not go back into the pool

    def _driver_error(self) -> type[Exception]:
        error: type[Exception] = self._engine.dialect.loaded_dbapi.Error
        return error

    def _lock(self, connection: sa.Connection) -> None:
        connection.exec_driver_sql("LOCK TABLE events IN EXCLUSIVE MODE")

    def _announce(self, connection: sa.Connection, seq: int) -> None:
        connection.execute(sa.select(sa.func.pg_notify(CHANNEL, str(seq))))

    def _opened(self, connection: sa.Connection, wanted: Mapping[str, str]) -> str:
        connection.execute(sa.select(sa.func.pg_advisory_xact_lock(OPENING_LOCK)))
        return super()._opened(connection, wanted)

    def _check_sound(self, connection: sa.Connection) -> None:
        for setting, (wanted, words) in NEEDED.items():
            found = connection.exec_driver_sql(f"SHOW {setting}").scalar()
            if found != wanted:
                raise refusal(self.where, f"a database server, {words}", f"{setting} = {found}",
                              f"Set {setting} to {wanted}, or choose another database.")


def _set_up(connection: Any, _record: Any) -> None:
    connection.autocommit = True
    for statement in SESSION:
        connection.execute(statement)
    connection.autocommit = False
