"""Keeps rows in a SQLite file, and checks that it is still the file that was opened.

A file can be deleted, replaced or overwritten while it is open, and SQLite continues to write without an error. Therefore
nothing is acknowledged unless the path still leads to the open file (device and inode, also of its write-ahead log). When the
file was changed since, by SQLite or by others, it is opened again and must hold everything that was acknowledged. The same
holds when its write-ahead log became shorter. SQLite finds the rows of a write-ahead log that was emptied or written over as
long as it is open, but not after a crash.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from typing import Any, NamedTuple

import sqlalchemy as sa
from sqlalchemy.pool import StaticPool

from dashboard.log.store.rows import DAMAGED_CURE, Judge, Row, Signs, StoreLost, refusal
from dashboard.log.store.sql import SqlRows

BUSY_SECONDS = 30
LOG_BEGINS = (b"\x37\x7f\x06\x82", b"\x37\x7f\x06\x83")  # sqlite.org/fileformat2.html, section 4.1: the magic number
SIGNS: Signs = (
    ("not a database", "a file of another kind, or a damaged store", "Give another file; this one is left as it is."),
    ("malformed", "a damaged store", DAMAGED_CURE),
    ("readonly", "a store that cannot be written", "Make the file and its folder writable, or choose another."),
    ("unable to open", "a file that cannot be opened", "Check the path and its permissions."),
    ("locked", "a store that another program keeps locked", "Close the other program; try again."),
    ("full", "no room left on the disk", "Make room, then send the event again."),
    ("disk I/O", "a disk that cannot be read or written", "Check the disk, and that nobody moved the file."),
)


class _Seen(NamedTuple):
    """What identifies a file, and what shows that it was changed."""

    device: int
    inode: int
    changed_ns: int
    size: int

    def is_file_of(self, other: _Seen) -> bool:
        return (self.device, self.inode) == (other.device, other.inode)


class SqliteRows(SqlRows):
    """Rows in one file.

    Parameters
    ----------
    url
        Address of the file.
    where
        The address as it is shown.

    Raises
    ------
    InputError
        When there can be no such file.
    """

    def __init__(self, url: sa.URL, where: str) -> None:
        self._size = _size_of(where, str(url.database))
        # One connection only: a second one would open the file that is at the path at that time.
        settings = {"timeout": BUSY_SECONDS, "check_same_thread": False}
        engine = sa.create_engine(url, connect_args=settings, poolclass=StaticPool)
        sa.event.listen(engine, "connect", _set_up)
        sa.event.listen(engine, "begin", _begin)
        super().__init__(engine, where, SIGNS)
        self._file = self._log = ""
        self._seen: _Seen | None = None
        self._log_seen: _Seen | None = None

    def open(self, wanted: Mapping[str, str]) -> str:
        made = super().open(wanted)
        with self._engine.connect() as connection:
            self._file = str(connection.exec_driver_sql("PRAGMA database_list").all()[0][2])
        self._log = f"{self._file}-wal"
        self._seen, self._log_seen = _look(self._file), _look(self._log)
        return _found(self._size, made) if made and self._size is not None else made

    def after(self, last: Row | None) -> list[Row]:
        self._check(last)
        return super().after(last)

    def add(self, last: Row | None, judge: Judge) -> list[Row]:
        self._check(last)
        rows = super().add(last, judge)
        self._check(rows[-1] if rows else last)
        return rows

    def _check(self, last: Row | None) -> None:
        """Raise StoreLost unless the file at the path is the open one and holds everything up to `last`."""
        file, log = _look(self._file), _look(self._log)
        if self._seen is None:
            return
        for name, now, then in ((self._file, file, self._seen), (self._log, log, self._log_seen)):
            if then is not None and (now is None or not now.is_file_of(then)):
                raise StoreLost(self.where, f"that {name} was {'deleted or moved' if now is None else 'replaced'}")
        if file != self._seen:
            self._check_content(last, self._file)
            self._seen = file
        if log is not None and self._log_seen is not None and log != self._log_seen:
            self._check_log(log.size, self._log_seen.size, last)
            self._log_seen = log

    def _check_log(self, size: int, size_before: int, last: Row | None) -> None:
        """Raise StoreLost when the write-ahead log was cut or written over. A checkpoint of another program may empty it."""
        if size and not _begins_as_log(self._log):
            raise StoreLost(self.where, f"that {self._log} was overwritten")
        if size < size_before:
            self._check_content(last, self._log)

    def _check_content(self, last: Row | None, changed: str) -> None:
        """Make the same check on what a program reads that opens the file now. `changed` is the file to name."""
        try:
            with closing(sqlite3.connect(f"{Path(self._file).as_uri()}?mode=ro", uri=True)) as fresh:
                state = fresh.execute("PRAGMA quick_check(1)").fetchone()[0]
                found = None
                if last is not None:
                    columns = ", ".join(Row._fields)
                    found = fresh.execute(f"SELECT {columns} FROM events WHERE seq = ?", (last.seq,)).fetchone()
        except sqlite3.Error as wrong:
            raise StoreLost(self.where, f"that {changed} was overwritten ({wrong})") from None
        if state != "ok" or (last is not None and found != last):
            raise StoreLost(self.where, f"that {changed} was overwritten")

    def _for_writing(self, connection: sa.Connection) -> sa.Connection:
        return connection.execution_options(tetherline_begin="IMMEDIATE")

    def _check_sound(self, connection: sa.Connection) -> None:
        state = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar()
        if state != "ok":
            raise refusal(self.where, "a sound database", f"a damaged one ({state})", DAMAGED_CURE)


def _look(path: str) -> _Seen | None:
    try:
        found = os.stat(path)
    except OSError:
        return None
    return _Seen(found.st_dev, found.st_ino, found.st_mtime_ns, found.st_size)


def _begins_as_log(path: str) -> bool:
    try:
        with open(path, "rb") as log:
            return log.read(4) in LOG_BEGINS
    except OSError:
        return False


def _size_of(where: str, database: str) -> int | None:
    """Size of the file that is there, in bytes; None: there is none. Raises an InputError when there can be no file."""
    if database.startswith("file:"):
        return None
    path = Path(database)
    if path.is_dir():
        raise refusal(where, "a store file", "a folder", "Give a file inside it.")
    if not path.parent.is_dir():
        raise refusal(where, "a folder to keep the store in", f"no folder {path.parent}", "Make it, or choose another.")
    return path.stat().st_size if path.is_file() else None


def _found(size: int, made: str) -> str:
    """What was there before a new store was made in it."""
    if size == 0:
        return f"an empty file (0 bytes) was there; {made} in it"
    return (
        f"a file of {size} bytes without any event was there, maybe a copy that lacks the file ending in -wal beside it; "
        f"{made} in it"
    )


def _set_up(connection: Any, _record: Any) -> None:
    connection.isolation_level = None  # _begin begins the transactions
    cursor = connection.cursor()
    cursor.execute("PRAGMA journal_mode = WAL")
    cursor.execute("PRAGMA synchronous = FULL")
    cursor.close()


def _begin(connection: sa.Connection) -> None:
    how = connection.get_execution_options().get("tetherline_begin", "DEFERRED")
    connection.exec_driver_sql(f"BEGIN {how}")
