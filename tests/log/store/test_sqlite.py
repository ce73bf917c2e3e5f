"""Rows in a SQLite file: durable, and the file that was opened or none."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from dashboard.log.store import EventStore
from dashboard.log.store.backup import back_up
from dashboard.log.store.batch import given
from dashboard.log.store.rows import Row, StoreLost
from dashboard.log.store.sqlite import SqliteRows
from dashboard.log.store.store import _Judged
from tests.log.store.shared import LATER, RECEIVED, KeptStoreTests, note, refused
from tests.problems import assert_problem


class TestSqliteFile(KeptStoreTests):
    """The store of a sortie: one file."""

    FULL_DISK_AT_E2 = (
        "CREATE TRIGGER fail BEFORE INSERT ON events WHEN NEW.id = 'e2' "
        "BEGIN SELECT RAISE(ABORT, 'database or disk is full'); END",
    )
    ROOM_AGAIN = ("DROP TRIGGER fail",)

    @pytest.fixture
    def url(self, file: Path) -> str:
        """A file in a folder of its own."""
        return f"sqlite:///{file}"

    def execute(self, url: str, *statements: str) -> None:
        """From another program."""
        execute(Path(url.removeprefix("sqlite:///")), *statements)


def execute(file: Path, *statements: str) -> None:
    """Do something to a SQLite file from outside."""
    with closing(sqlite3.connect(file)) as connection, connection:
        for statement in statements:
            connection.execute(statement)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Where the store is."""
    return tmp_path / "sortie.db"


@pytest.fixture
def store(file: Path) -> EventStore:
    """An open store with two events; it is in no hurry to close."""
    store = EventStore(f"sqlite:///{file}", "lantern-t")
    store.append([note("e1"), note("e2")], RECEIVED)
    return store


def checkpoint(file: Path) -> None:
    """Move everything from the write-ahead log into the file itself."""
    execute(file, "PRAGMA wal_checkpoint(TRUNCATE)")


def test_the_database_writes_through_to_the_disk(store: EventStore) -> None:
    """Write-ahead log with a full flush at every commit: what is acknowledged survives a power cut."""
    place = store._place
    assert isinstance(place, SqliteRows)
    with place._engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2  # FULL
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"


# --- the file under a running server --------------------------------------------------------------


def delete(file: Path) -> None:
    """As `rm sortie.db*` does."""
    for path in file.parent.glob("sortie.db*"):
        path.unlink()


def delete_the_file_alone(file: Path) -> None:
    """As `rm sortie.db` does."""
    file.unlink()


def delete_the_log_alone(file: Path) -> None:
    """As someone does who tidies up."""
    Path(f"{file}-wal").unlink()


def empty_the_log_alone(file: Path) -> None:
    """As `> sortie.db-wal` does."""
    os.truncate(f"{file}-wal", 0)


def cut_the_log_alone(file: Path) -> None:
    """As a copy over it that was interrupted does."""
    os.truncate(f"{file}-wal", os.path.getsize(f"{file}-wal") - 4096)


def replace_by_another(file: Path) -> None:
    """As `mv other.db sortie.db` does, with the store of the same sortie."""
    other = EventStore(f"sqlite:///{file.parent / 'other.db'}", "lantern-t")
    other.append([note("o1"), note("o2"), note("o3")], RECEIVED)
    other.close()
    (file.parent / "other.db").rename(file)


def write_over_by_an_older_backup(file: Path) -> None:
    """As `cp backup.db sortie.db` does: the same file with other content."""
    older = EventStore(f"sqlite:///{file.parent / 'older.db'}", "lantern-t")
    older.append([note("e1")], RECEIVED)
    older.close()
    checkpoint(file)
    shutil.copyfile(file.parent / "older.db", file)


def empty(file: Path) -> None:
    """As `> sortie.db` does."""
    os.truncate(file, 0)


def fill_with_noise(file: Path) -> None:
    """As a failing disk does."""
    checkpoint(file)
    file.write_bytes(b"noise" * 4096)


@pytest.mark.parametrize(
    ("harm", "said"),
    [
        (delete, "sortie.db was deleted or moved"),
        (delete_the_file_alone, "sortie.db was deleted or moved"),
        (delete_the_log_alone, "sortie.db-wal was deleted or moved"),
        (empty_the_log_alone, "sortie.db-wal was overwritten"),
        (cut_the_log_alone, "sortie.db-wal was overwritten"),
        (replace_by_another, "sortie.db was replaced"),
        (write_over_by_an_older_backup, "sortie.db was overwritten"),
        (empty, "sortie.db was overwritten"),
        (fill_with_noise, "sortie.db was overwritten"),
    ],
)
def test_what_is_entered_after_the_file_is_gone_is_not_acknowledged(
    store: EventStore, file: Path, tmp_path: Path, harm: Callable[[Path], None], said: str
) -> None:
    """It is kept in memory and counts, its sender and the boards are told, and all of it can be saved."""
    harm(file)
    outcomes = store.append([note("e3"), note("e1")], LATER)
    assert [(o.status, o.id, o.seq) for o in outcomes] == [("in memory only", "e3", 3), ("already recorded", "e1", 1)]
    assert said in str(outcomes[0].why)
    assert store.trouble is not None and said in store.trouble and "tetherline backup" in store.trouble
    assert [event.id for event in store.events()] == ["e1", "e2", "e3"]
    store.save_to(tmp_path / "saved.db")
    again = EventStore(f"sqlite:///{tmp_path / 'saved.db'}", "lantern-t")
    assert (again.events(), again.trouble) == (store.events(), None)
    again.close()


def test_boards_learn_of_a_deleted_file_before_anything_is_entered(store: EventStore, file: Path) -> None:
    """Every reading looks whether the file is still there."""
    delete(file)
    assert [event.id for event in store.events()] == ["e1", "e2"]
    assert store.trouble is not None and "0 entries since then are in memory only" in store.trouble


def test_a_file_that_was_moved_away_and_back_goes_on(store: EventStore, file: Path) -> None:
    """What was entered meanwhile is added to it with the time at which it came in."""
    file.rename(file.with_suffix(".aside"))
    store.append([note("e3")], LATER)
    file.with_suffix(".aside").rename(file)
    assert [(o.status, o.seq) for o in store.append([note("e3"), note("e4")], LATER)] == [
        ("already recorded", 3), ("recorded", 4),
    ]
    assert store.trouble is None
    store.close()
    again = EventStore(f"sqlite:///{file}", "lantern-t")
    assert [(event.id, event.received) for event in again.events()] == [
        ("e1", RECEIVED), ("e2", RECEIVED), ("e3", LATER), ("e4", LATER),
    ]
    again.close()


def test_a_checkpoint_is_not_taken_for_a_change(store: EventStore, file: Path) -> None:
    """SQLite writes the file now and then, for us or for another program that has it open."""
    checkpoint(file)
    assert store.append([note("e3")], RECEIVED)[0].status == "recorded"
    checkpoint(file)
    assert [event.id for event in store.events()] == ["e1", "e2", "e3"]
    assert store.trouble is None


def test_an_empty_file_is_named_when_it_is_opened(file: Path) -> None:
    """Zero bytes are no store that lost nothing."""
    file.touch()
    store = EventStore(f"sqlite:///{file}", "lantern-t")
    assert store.opening == "an empty file (0 bytes) was there; a new store was made in it"
    store.close()


def test_a_log_that_is_emptied_during_a_write_is_found_after_it(store: EventStore, file: Path) -> None:
    """SQLite then writes behind the old end and leaves no header, so nothing could be read after a crash."""
    place = store._place
    assert isinstance(place, SqliteRows)
    judge = _Judged(store._known, "lantern-t", [given(note("e3"), "2031-04-12T10:00:00Z")])

    def emptied(newer: list[Row]) -> list[Row]:
        empty_the_log_alone(file)
        return judge(newer)

    with pytest.raises(StoreLost, match="sortie.db-wal was overwritten"):
        place.add(store._known.last, emptied)


def test_a_copy_of_the_main_file_alone_is_named_when_it_is_opened(store: EventStore, file: Path, tmp_path: Path) -> None:
    """The newest events are in the write-ahead log, so the copy holds none of them."""
    shutil.copyfile(file, tmp_path / "copy.db")
    copy = EventStore(f"sqlite:///{tmp_path / 'copy.db'}", "lantern-t")
    assert copy.opening == (
        "a file of 4096 bytes without any event was there, maybe a copy that lacks the file ending in -wal beside it; "
        "a new store was made in it"
    )
    copy.close()


def test_a_backup_may_lie_under_the_name_of_the_store(store: EventStore, file: Path, tmp_path: Path) -> None:
    """Written over by a copy that lacks nothing, it goes on: each event that was acknowledged is there."""
    checkpoint(file)
    back_up(str(file), tmp_path / "copy.db")
    shutil.copyfile(tmp_path / "copy.db", file)
    assert store.append([note("e3")], RECEIVED)[0].status == "recorded"
    store.close()
    again = EventStore(f"sqlite:///{file}", "lantern-t")
    assert [event.id for event in again.events()] == ["e1", "e2", "e3"]
    again.close()


# --- files that cannot be used --------------------------------------------------------------------


def test_a_file_that_is_no_database_is_refused_and_left_alone(tmp_path: Path) -> None:
    """A plan named by mistake is not written over."""
    file = tmp_path / "plan.toml"
    file.write_text("[sortie]\nid = 't'\n" * 100)
    before = file.read_bytes()
    assert_problem(refused(f"sqlite:///{file}"), subject="event store", expected="a store of events",
                   found="a file of another kind", cure="Give another file")
    assert file.read_bytes() == before


def test_a_damaged_store_is_refused(file: Path) -> None:
    """Pages overwritten in the middle are found when it is opened, not in the middle of a sortie."""
    store = EventStore(f"sqlite:///{file}", "lantern-t")
    store.append([note(f"e{n}", "words " * 50) for n in range(200)], RECEIVED)
    store.close()
    size = file.stat().st_size
    with file.open("r+b") as damage:
        damage.seek(4096 * 3)
        damage.write(os.urandom(size - 4096 * 6))
    assert_problem(refused(f"sqlite:///{file}"), subject="event store", expected="", found="damaged",
                   cure="Go on with a new store")


def test_a_missing_folder_a_folder_and_a_read_only_store_are_told(tmp_path: Path) -> None:
    """Each with what to do."""
    assert_problem(refused(f"sqlite:///{tmp_path}/no/sortie.db"), subject="event store", expected="a folder",
                   found="no folder", cure="Make it")
    assert_problem(refused(f"sqlite:///{tmp_path}"), subject="event store", expected="a store file", found="a folder",
                   cure="inside it")
    EventStore(f"sqlite:///{tmp_path}/sortie.db", "lantern-t").close()
    assert_problem(refused(f"sqlite:///file:{tmp_path}/sortie.db?mode=ro&uri=true"), subject="event store",
                   expected="a store of events", found="cannot be written", cure="writable")
