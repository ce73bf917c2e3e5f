"""Writes backups of a store, and makes stores from them. A backup is a SQLite file, or JSON Lines for any database.

The first line of a JSON Lines backup gives the sortie, the number of rows, and their SHA-256. Every other line is one row with
its `seq` and `received`, and its text verbatim. What was written is read again and compared.
"""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

import sqlalchemy as sa

from dashboard.log.store.place import place_of
from dashboard.log.store.rows import FORMAT, Row, cannot, refusal
from dashboard.log.store.sqlite import SIGNS
from dashboard.log.textfile import read_text

WHAT = "a backup of a store (JSON Lines)"
LARGEST_MB = 2000.0
LINES = ".jsonl"
KIND = "tetherline backup"


class Backup(NamedTuple):
    """The rows of a store, and its marks (`format`, and `sortie` if it has one)."""

    rows: list[Row]
    about: dict[str, str]

    @property
    def digest(self) -> str:
        """SHA-256 of the rows; the same for every kind of store that holds them."""
        return digest_of(self.rows)

    def in_words(self) -> str:
        """Say how many entries of which sortie it holds, when the last was received, and their SHA-256."""
        entries = "1 entry" if len(self.rows) == 1 else f"{len(self.rows)} entries"
        of = f" of sortie {self.about['sortie']}" if "sortie" in self.about else ""
        last = f", the last received {self.rows[-1].received}" if self.rows else ""
        return f"{entries}{of}{last}; SHA-256 {self.digest}"


def digest_of(rows: Sequence[Row]) -> str:
    """Compute the SHA-256 of rows.

    Parameters
    ----------
    rows
        In the order of `seq`.

    Returns
    -------
    str
        Hexadecimal; the digest of the rows as lines of JSON.
    """
    return hashlib.sha256("".join(map(_line, rows)).encode()).hexdigest()


# --- JSON Lines -----------------------------------------------------------------------------------


def text_of(rows: Sequence[Row], about: Mapping[str, str]) -> str:
    """Write a backup as JSON Lines.

    Parameters
    ----------
    rows
        In the order of `seq`.
    about
        The marks of the store.

    Returns
    -------
    str
        The text of the backup, its first line included.
    """
    head = {KIND: FORMAT, "sortie": about.get("sortie"), "rows": len(rows), "sha256": digest_of(rows)}
    return json.dumps(head) + "\n" + "".join(map(_line, rows))


def of_text(text: str, where: str) -> Backup:
    """Read a backup that is JSON Lines.

    Parameters
    ----------
    text
        The text of the backup.
    where
        The file or server that it is from, to be named in errors.

    Returns
    -------
    Backup
        All rows that its first line promises.

    Raises
    ------
    InputError
        When the text is not a backup, has another format, was cut off, or was changed.
    """
    first, _, rest = text.partition("\n")
    try:
        head = json.loads(first)
        count, digest, sortie = int(head["rows"]), str(head["sha256"]), head["sortie"]
        if head[KIND] != FORMAT:
            raise refusal(where, f"a backup of format {FORMAT}", f"one of format {head[KIND]}",
                          "Restore it with the version that wrote it.")
    except (ValueError, KeyError, TypeError):
        raise refusal(where, WHAT, f"no backup: its first line is '{first[:60]}'",
                      "Give a file that `tetherline backup` wrote.") from None
    lines = rest.split("\n")
    try:
        rows = [Row(**json.loads(line)) for line in lines[:-1]]
    except (ValueError, TypeError) as wrong:
        raise refusal(where, "a whole backup", f"a line that is not a row ({wrong})", _NOT_WHOLE) from None
    if lines[-1] or (len(rows), digest_of(rows)) != (count, digest):
        raise refusal(where, f"a whole backup, {count} rows with the SHA-256 {digest}",
                      f"{len(rows)} rows with the SHA-256 {digest_of(rows)}", _NOT_WHOLE)
    return Backup(rows, {"format": FORMAT, **({"sortie": sortie} if sortie is not None else {})})


_NOT_WHOLE = "This backup was cut off or changed; use another one."


def _line(row: Row) -> str:
    return json.dumps(row._asdict()) + "\n"


# --- writing a backup -----------------------------------------------------------------------------


def write(rows: Sequence[Row], about: Mapping[str, str], path: Path) -> int:
    """Write rows into a new file, which appears as a whole or not at all.

    Parameters
    ----------
    rows
        In the order of `seq`.
    about
        The marks of the store.
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
    with _appearing(path) as part:
        if path.suffix == LINES:
            part.write_text(text_of(rows, about), encoding="utf-8")
            of_text(part.read_text(encoding="utf-8"), str(path))
        else:
            _fill(_url(part), Backup(list(rows), dict(about)))
            _in_one_file(part)
    return len(rows)


def back_up(store: str, path: Path) -> Backup:
    """Write a backup of a store into a new file. A server may have the store open.

    Parameters
    ----------
    store
        The path of a SQLite store, or the address of a store.
    path
        The new file. A name that ends in .jsonl gives JSON Lines, any other name a SQLite store. A SQLite store is copied page by
        page into a SQLite store.

    Returns
    -------
    Backup
        What the new file holds.

    Raises
    ------
    InputError
        When the store cannot be read, when the file exists or cannot be written, or when the copy differs.
    """
    file = file_of(store)
    if file is None or path.suffix == LINES:
        held = read(store)
        write(held.rows, held.about, path)
        return held
    with _appearing(path) as part:
        with _reading(file) as source, closing(sqlite3.connect(part)) as target:
            source.backup(target)
        _in_one_file(part)
        copied = _read_file(part)
        now = _read_file(file).rows
        if copied.rows != now[: len(copied.rows)]:
            found = f"{len(copied.rows)} rows that differ from it"
            raise refusal(str(path), "a copy of the store", found, "Check the disk; try again.")
    return copied


def read(store: str) -> Backup:
    """Read the content of a store without changing it.

    Parameters
    ----------
    store
        The path of a SQLite store, or the address of a store.

    Returns
    -------
    Backup
        Its rows and marks.

    Raises
    ------
    InputError
        When there is no such store, or it cannot be read.
    """
    file = file_of(store)
    if file is not None:
        return _read_file(file)
    place = place_of(store)
    try:
        return Backup(place.after(None), place.about())
    finally:
        place.close()


def clock(store: str) -> datetime | None:
    """Ask the clock of the database server.

    Parameters
    ----------
    store
        The path of a SQLite store, or the address of a store.

    Returns
    -------
    datetime or None
        Aware, in UTC; None when the store has no clock but that of this computer.

    Raises
    ------
    InputError
        When the database server cannot be asked.
    """
    if file_of(store) is not None:
        return None
    place = place_of(store)
    try:
        return place.clock()
    finally:
        place.close()


# --- making a store of a backup -------------------------------------------------------------------


def restore(path: Path, store: str) -> Backup:
    """Make a new store from a backup.

    Parameters
    ----------
    path
        The backup: JSON Lines if its name ends in .jsonl, otherwise a SQLite store.
    store
        The path of the new SQLite store, or the address of the new store.

    Returns
    -------
    Backup
        What the new store holds.

    Raises
    ------
    InputError
        When the backup is incomplete or cannot be read, or when the store exists already.
    """
    held = of_text(read_text(path, WHAT, LARGEST_MB), str(path)) if path.suffix == LINES else _read_file(path)
    file = file_of(store)
    if file is None:
        _fill(store, held)
        return held
    with _appearing(file) as part:
        _fill(_url(part), held)
    return held


def _fill(url: str, held: Backup) -> None:
    """Put rows into a new store, and compare what it then holds.

    Raises
    ------
    InputError
        When the store exists already, or cannot be written.
    """
    place = place_of(url)
    if not place.open(held.about):
        found = len(place.after(None))
        place.close()
        raise refusal(place.where, "a store that does not exist yet", f"an existing one with {found} rows",
                      "Give another; this one is left as it is.")
    try:
        place.add(None, lambda there: [] if there else held.rows)
        if place.after(None) != held.rows:
            expected = f"the {len(held.rows)} rows of the backup"
            raise refusal(place.where, expected, "rows that differ from them", "Check the disk; try again.")
    finally:
        place.close()


# --- files ----------------------------------------------------------------------------------------


def file_of(store: str) -> Path | None:
    """Find the file of a SQLite store.

    Parameters
    ----------
    store
        The path of a SQLite store, or the address of a store.

    Returns
    -------
    Path or None
        None for the address of a store that is not a file.
    """
    if "://" not in store:
        return Path(store)
    try:
        url = sa.make_url(store)
    except sa.exc.ArgumentError:
        return None
    return Path(url.database) if url.get_backend_name() == "sqlite" and url.database else None


def _url(path: Path) -> str:
    return sa.URL.create("sqlite", database=str(path)).render_as_string()


def _read_file(path: Path) -> Backup:
    with _reading(path) as connection:
        tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        if not {"about", "events"} <= tables:
            raise refusal(str(path), "a store of events", "a database without the tables of a store", _NO_TABLES)
        rows = connection.execute(f"SELECT {', '.join(Row._fields)} FROM events ORDER BY seq").fetchall()
        return Backup([Row._make(row) for row in rows], dict(connection.execute("SELECT key, value FROM about")))


_NO_TABLES = (
    "Give a store. If this file was copied from a running server without the file beside it whose name ends in -wal, its "
    "events are missing: copy it with `tetherline backup` instead."
)


def _in_one_file(path: Path) -> None:
    """Turn off the write-ahead log, so that the file alone is a whole copy."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")


@contextmanager
def _reading(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a SQLite file for reading only, as one snapshot."""
    if not path.is_file():
        found = "a folder" if path.is_dir() else "no such file"
        raise refusal(str(path), "a store of events", found, "Check the name of the file.")
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=rw", uri=True)) as connection:
            connection.isolation_level = None
            connection.execute("BEGIN")
            yield connection
    except sqlite3.Error as wrong:
        raise cannot(str(path), wrong, SIGNS) from None


@contextmanager
def _appearing(path: Path) -> Iterator[Path]:
    """Give a file beside `path` to write to. It gets the name `path` once it is whole, and is removed if it never is.

    Raises
    ------
    InputError
        When `path` exists or cannot be written.
    """
    for there in (path, *_beside(path)):
        if there.exists():
            found = "an existing one" if there == path else f"{there.name}, left by an earlier store"
            raise refusal(str(path), "a file that does not exist yet", found, "Give another name; the file is left as it is.")
    if not path.parent.is_dir():
        raise refusal(str(path), "a place to write a file", f"no folder {path.parent}", "Choose another folder.")
    part = path.with_name(f"{path.name}.part")
    try:
        part.unlink(missing_ok=True)
        yield part
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        part.rename(path)
    except OSError as wrong:
        raise refusal(str(path), "a place to write a file", str(wrong.strerror), "Choose another folder.") from None
    finally:
        for left in (part, *_beside(part)):
            left.unlink(missing_ok=True)


def _beside(path: Path) -> list[Path]:
    """The files that SQLite keeps beside a database. SQLite would use old ones as part of a new database."""
    return [path.with_name(path.name + end) for end in ("-wal", "-shm", "-journal")]
