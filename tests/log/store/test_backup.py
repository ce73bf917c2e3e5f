"""Backups: taken of a store that is in use, whole or refused, and made into a store again."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from dashboard.core.base.problems import InputError
from dashboard.log.store import EventStore
from dashboard.log.store.backup import back_up, of_text, read, restore, text_of
from dashboard.log.store.rows import Row
from tests.log.store.shared import LATER, RECEIVED, note, refused
from tests.postgres import PostgresServer

KINDS = ("sqlite", "postgres")


def address(kind: str, folder: Path, postgres: PostgresServer) -> str:
    """A store that is not there yet, by its address."""
    return postgres.new_database() if kind == "postgres" else f"sqlite:///{folder / 'sortie.db'}"


@pytest.fixture(params=KINDS)
def url(request: pytest.FixtureRequest, tmp_path: Path, postgres: PostgresServer) -> str:
    """A store of each kind."""
    return address(request.param, tmp_path, postgres)


@pytest.fixture
def store(url: str) -> EventStore:
    """An open store with events and what was not understood."""
    store = EventStore(url, "lantern-t")
    store.append([note("e1"), "some words", note("e2", "\0 \u2028 \n")], RECEIVED)
    store.append([note("e3"), note("e1", "not well")], LATER)
    return store


def refusal(store: str, path: Path) -> str:
    """The one line with which a backup is refused."""
    with pytest.raises(InputError) as wrong:
        back_up(store, path)
    return str(wrong.value)


@pytest.mark.parametrize("name", ["backup.jsonl", "backup.db"])
@pytest.mark.parametrize("target", KINDS)
def test_a_backup_of_a_store_in_use_becomes_the_same_store_again(
    store: EventStore, url: str, name: str, target: str, tmp_path: Path, postgres: PostgresServer
) -> None:
    """Every row with its place, its time of entry and its very text, from and to each kind of database; it goes on counting."""
    (tmp_path / "new").mkdir()
    other = address(target, tmp_path / "new", postgres)
    taken = back_up(url, tmp_path / name)
    made = restore(tmp_path / name, other)
    assert len(taken.rows) == 5
    assert taken.digest == made.digest == read(other).digest
    assert read(other) == read(url)
    again = EventStore(other, "lantern-t")
    assert (again.events(), again.unread(), again.rows_after(0)) == (store.events(), store.unread(), store.rows_after(0))
    assert [(o.status, o.seq) for o in again.append([note("e3"), note("e4")], LATER)] == [
        ("already recorded", 4), ("recorded", 6),
    ]
    again.close()
    assert store.append([note("e4")], LATER)[0].status == "recorded"
    assert refused(other, "lantern-u").found == "the store of sortie 'lantern-t'"
    store.close()


def test_a_backup_of_a_file_is_one_file(tmp_path: Path) -> None:
    """It has no write-ahead log beside it, so a copy of it is whole; a copy of the store's own file alone is told as none."""
    file = tmp_path / "sortie.db"
    store = EventStore(f"sqlite:///{file}", "lantern-t")
    store.append([note("e1")], RECEIVED)
    shutil.copyfile(file, tmp_path / "copy.db")
    back_up(str(file), tmp_path / "backup.db")
    assert {path.name for path in tmp_path.iterdir()} == {
        "sortie.db", "sortie.db-wal", "sortie.db-shm", "backup.db", "copy.db"
    }
    shutil.copyfile(tmp_path / "backup.db", tmp_path / "second.db")
    assert [row.id for row in read(str(tmp_path / "second.db")).rows] == ["e1"]
    told = refusal(str(tmp_path / "copy.db"), tmp_path / "other.db")
    assert "copied from a running server without the file beside it whose name ends in -wal" in told
    assert not (tmp_path / "other.db").exists()
    store.close()


def test_nothing_is_written_over(store: EventStore, url: str, tmp_path: Path) -> None:
    """Neither a file by a backup nor a store by a restored one."""
    back_up(url, tmp_path / "backup.jsonl")
    before = (tmp_path / "backup.jsonl").read_bytes(), read(url)
    assert "expected a file that does not exist yet" in refusal(url, tmp_path / "backup.jsonl")
    with pytest.raises(InputError, match="does not exist yet; found an existing one"):
        restore(tmp_path / "backup.jsonl", url)
    assert ((tmp_path / "backup.jsonl").read_bytes(), read(url)) == before
    store.close()


def test_what_an_earlier_store_left_is_not_taken_for_part_of_the_new_one(tmp_path: Path) -> None:
    """A write-ahead log without its file: SQLite would play it back over what was restored."""
    store = EventStore(f"sqlite:///{tmp_path / 'sortie.db'}", "lantern-t")
    store.append([note("e1")], RECEIVED)
    store.save_to(tmp_path / "backup.jsonl")
    (tmp_path / "sortie.db").unlink()
    with pytest.raises(InputError, match="found sortie.db-wal, left by an earlier store. Give another name"):
        restore(tmp_path / "backup.jsonl", str(tmp_path / "sortie.db"))
    assert not (tmp_path / "sortie.db").exists()
    store.close()


@pytest.mark.parametrize("name", ["none.db", "none.jsonl"])
def test_a_store_or_a_backup_that_is_not_there_is_told(name: str, tmp_path: Path) -> None:
    """And nothing is made of it."""
    for attempt in (lambda: back_up("no.db", tmp_path / name), lambda: restore(tmp_path / name, str(tmp_path / "x.db"))):
        with pytest.raises(InputError, match="no such file"):
            attempt()
    assert list(tmp_path.iterdir()) == []


def test_a_backup_into_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    """With what to do."""
    EventStore(f"sqlite:///{tmp_path / 'sortie.db'}", "lantern-t").close()
    for name in ("backup.jsonl", "backup.db"):
        with pytest.raises(InputError, match="Choose another folder"):
            back_up(str(tmp_path / "sortie.db"), tmp_path / "no" / name)


def test_a_database_without_tables_is_told(postgres: PostgresServer, tmp_path: Path) -> None:
    """It is no store, and does not become one by being backed up."""
    url = postgres.new_database()
    for _ in range(2):
        with pytest.raises(InputError, match="a database or table that is missing"):
            back_up(url, tmp_path / "backup.jsonl")
    assert list(tmp_path.iterdir()) == []


# --- backups that are not whole -------------------------------------------------------------------

ROWS = [
    Row(1, "e1", "2031-04-12T09:20:00Z", json.dumps(note("e1")), "readable", None),
    Row(2, None, "2031-04-12T09:21:00Z", "some words", "unread", "expected one JSON object; found text that is not JSON"),
]
WHOLE = text_of(ROWS, {"format": "1", "sortie": "lantern-t"})


def test_a_whole_backup_is_read() -> None:
    """What the others below spoil."""
    assert of_text(WHOLE, "here") == (ROWS, {"format": "1", "sortie": "lantern-t"})


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "an empty file"),
        ("[]\n", "no backup"),
        ('{"id": "e1", "kind": "note"}\n', "no backup"),
        (WHOLE[:-1], "found 1 rows"),
        (WHOLE[:-30], "found 1 rows"),
        (WHOLE.rsplit("\n", 2)[0] + "\n", "expected a whole backup, 2 rows with the SHA-256"),
        (WHOLE.replace("some words", "some werds"), "2 rows with the SHA-256"),
        (WHOLE.replace("09:21", "09:22"), "2 rows with the SHA-256"),
        (WHOLE + WHOLE.splitlines()[1] + "\n", "found 3 rows"),
        (WHOLE.replace('"seq": 2', '"place": 2'), "a line that is not a row"),
        (WHOLE + "{\n", "a line that is not a row"),
        (WHOLE.replace('backup": "1"', 'backup": "2"'), "one of format 2"),
    ],
)
def test_a_backup_that_was_cut_off_or_changed_is_refused(text: str, said: str, tmp_path: Path) -> None:
    """Nothing is made of it."""
    (tmp_path / "backup.jsonl").write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as wrong:
        restore(tmp_path / "backup.jsonl", str(tmp_path / "sortie.db"))
    assert said in str(wrong.value)
    assert [path.name for path in tmp_path.iterdir()] == ["backup.jsonl"]


def test_another_database_is_no_backup(tmp_path: Path) -> None:
    """Its tables are not those of a store."""
    with closing(sqlite3.connect(tmp_path / "other.db")) as other:
        other.execute("CREATE TABLE recipes (name)")
    with pytest.raises(InputError, match="a database without the tables of a store"):
        restore(tmp_path / "other.db", str(tmp_path / "sortie.db"))
