"""Backups of a store, and stores made of them: a SQLite file, or JSON Lines from and for any database.

The first line of a JSON Lines backup says of which sortie it is, how many rows follow, and their SHA-256; each other line
is one row with its `seq` and `received`, its text verbatim. What was written is read again and compared.
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
    """The rows of a store, and what it is marked with."""

    rows: list[Row]
    about: dict[str, str]

    @property
    def digest(self) -> str:
        """SHA-256 of the rows; the same for every kind of store that holds them."""
        return digest_of(self.rows)

    def in_words(self) -> str:
        """How many entries of which sortie, how old the last is, and their SHA-256."""
        entries = "1 entry" if len(self.rows) == 1 else f"{len(self.rows)} entries"
        of = f" of sortie {self.about['sortie']}" if "sortie" in self.about else ""
        last = f", the last received {self.rows[-1].received}" if self.rows else ""
        return f"{entries}{of}{last}; SHA-256 {self.digest}"


def digest_of(rows: Sequence[Row]) -> str:
    """SHA-256 of rows as lines of JSON."""
    return hashlib.sha256("".join(map(_line, rows)).encode()).hexdigest()


# --- JSON Lines -----------------------------------------------------------------------------------


def text_of(rows: Sequence[Row], about: Mapping[str, str]) -> str:
    """A backup as JSON Lines."""
    head = {KIND: FORMAT, "sortie": about.get("sortie"), "rows": len(rows), "sha256": digest_of(rows)}
    return json.dumps(head) + "\n" + "".join(map(_line, rows))


def of_text(text: str, where: str) -> Backup:
    """What a backup as JSON Lines holds.

    Raises
    ------
    InputError
        When it is none, or not whole.
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
                      "Name the file that `tetherline backup` wrote.") from None
    lines = rest.split("\n")
    try:
        rows = [Row(**json.loads(line)) for line in lines[:-1]]
    except (ValueError, TypeError) as wrong:
        raise refusal(where, "a whole backup", f"a line that is no row ({wrong})", _NOT_WHOLE) from None
    if lines[-1] or (len(rows), digest_of(rows)) != (count, digest):
        raise refusal(where, f"a whole backup, {count} rows with the SHA-256 {digest}",
                      f"{len(rows)} rows with the SHA-256 {digest_of(rows)}", _NOT_WHOLE)
    return Backup(rows, {"format": FORMAT, **({"sortie": sortie} if sortie is not None else {})})


_NOT_WHOLE = "It was cut off or changed; use another backup."


def _line(row: Row) -> str:
    return json.dumps(row._asdict()) + "\n"


# --- writing a backup -----------------------------------------------------------------------------


def write(rows: Sequence[Row], about: Mapping[str, str], path: Path) -> int:
    """Write rows into a new file: JSON Lines where it ends in .jsonl, else a SQLite store. It appears whole or not at all.

    Raises
    ------
    InputError
        When there is such a file, or it cannot be written.
    """
    with _appearing(path) as part:
        if path.suffix == LINES:
            part.write_text(text_of(rows, about), encoding="utf-8")
            of_text(part.read_text(encoding="utf-8"), str(path))
        else:
            fill(_url(part), Backup(list(rows), dict(about)))
            _in_one_file(part)
    return len(rows)


def back_up(store: str, path: Path) -> Backup:
    """Write a backup of a store, whether or not a server has it open, into a new file.

    Parameters
    ----------
    store : str
        The path of a SQLite store, or the address of a store.
    path : Path
        JSON Lines where it ends in .jsonl. A SQLite file else, copied page by page where the store is one.

    Raises
    ------
    InputError
        When the store cannot be read, there is such a file, or it cannot be written.
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
            raise refusal(str(path), "a copy of every row", f"{len(copied.rows)} rows that differ", "Check the disk; try again.")
    return copied


def read(store: str) -> Backup:
    """What a store holds, read without changing it.

    Raises
    ------
    InputError
        When there is none, or it cannot be read.
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
    """What the clock of a store says now; None: it has none but that of this computer.

    Raises
    ------
    InputError
        When it cannot be asked.
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
    """Make a new store of a backup.

    Raises
    ------
    InputError
        When the backup is not whole, or there is such a store already.
    """
    held = of_text(read_text(path, WHAT, LARGEST_MB), str(path)) if path.suffix == LINES else _read_file(path)
    file = file_of(store)
    if file is None:
        fill(store, held)
        return held
    with _appearing(file) as part:
        fill(_url(part), held)
    return held


def fill(url: str, held: Backup) -> None:
    """Put rows into a store that is not there yet, and compare what it then holds.

    Raises
    ------
    InputError
        When there is such a store, or it cannot be written.
    """
    place = place_of(url)
    if not place.open(held.about):
        found = len(place.after(None))
        place.close()
        raise refusal(place.where, "a store that is not there yet", f"one with {found} rows",
                      "Name another; it is left as it is.")
    try:
        place.add(None, lambda there: [] if there else held.rows)
        if place.after(None) != held.rows:
            raise refusal(place.where, f"{len(held.rows)} rows as in the backup", "others", "Check the disk; try again.")
    finally:
        place.close()


# --- files ----------------------------------------------------------------------------------------


def file_of(store: str) -> Path | None:
    """The file of a SQLite store, by its path or its address; None: the address of another."""
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
            raise refusal(str(path), "a store of events", "a database without its tables", _NO_TABLES)
        rows = connection.execute(f"SELECT {', '.join(Row._fields)} FROM events ORDER BY seq").fetchall()
        return Backup([Row._make(row) for row in rows], dict(connection.execute("SELECT key, value FROM about")))


_NO_TABLES = (
    "Name a store. Where it was copied from a running server without the file of the same name that ends in -wal, what that "
    "one held is missing: use `tetherline backup` instead."
)


def _in_one_file(path: Path) -> None:
    """Do without a write-ahead log, so that a copy of the file is whole."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")


@contextmanager
def _reading(path: Path) -> Iterator[sqlite3.Connection]:
    """A SQLite file, for reading only; one snapshot of it."""
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
    """A file beside `path` that takes its name once it is whole, and goes when it is not.

    Raises
    ------
    InputError
        When there is such a file, or it cannot be written.
    """
    for there in (path, *_beside(path)):
        if there.exists():
            found = "one that is" if there == path else f"{there.name}, left by an earlier store"
            raise refusal(str(path), "a file that is not there yet", found, "Name another; it is left as it is.")
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
    """The files that SQLite keeps beside a database; it would take an old one for part of a new database."""
    return [path.with_name(path.name + end) for end in ("-wal", "-shm", "-journal")]
