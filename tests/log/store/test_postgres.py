"""Rows in a real PostgreSQL: shared by several servers, gone and back."""

from __future__ import annotations

import signal
import threading
from datetime import timedelta

import psycopg
import pytest

from dashboard.core.base.problems import InputError
from dashboard.log.store import EventStore
from dashboard.log.store.postgres import PostgresRows
from tests.log.store.shared import RECEIVED, KeptStoreTests, note, refused
from tests.postgres import PostgresServer
from tests.problems import the_only

WAIT_S = 20.0


def connected(url: str) -> psycopg.Connection[tuple[object, ...]]:
    """A connection of another program."""
    return psycopg.connect(url.replace("postgresql+psycopg", "postgresql"), autocommit=True)


class TestPostgres(KeptStoreTests):
    """The store of several servers: one database."""

    FULL_DISK_AT_E2 = (
        "CREATE FUNCTION fail() RETURNS trigger LANGUAGE plpgsql AS "
        "$$BEGIN RAISE 'could not extend file: No space left on device'; END$$",
        "CREATE TRIGGER fail BEFORE INSERT ON events FOR EACH ROW WHEN (NEW.id = 'e2') EXECUTE FUNCTION fail()",
    )
    ROOM_AGAIN = ("DROP TRIGGER fail ON events",)

    @pytest.fixture
    def url(self, postgres: PostgresServer) -> str:
        """A database of its own."""
        return postgres.new_database()

    def execute(self, url: str, *statements: str) -> None:
        """From another program."""
        with connected(url) as connection:
            for statement in statements:
                connection.execute(statement)  # type: ignore[call-overload]


@pytest.fixture
def url(postgres: PostgresServer) -> str:
    """A database of its own."""
    return postgres.new_database()


class Ears:
    """Counts how often it was told, and waits for the next time."""

    def __init__(self, store: EventStore) -> None:
        self._told = threading.Event()
        store.watch(self._told.set)

    def next(self) -> None:
        """Wait until it is told; fails when it is not."""
        assert self._told.wait(WAIT_S), "nothing was told"
        self._told.clear()

    @property
    def silent(self) -> bool:
        """Whether it was told nothing since."""
        return not self._told.is_set()


def test_what_one_server_records_is_told_to_the_others(url: str) -> None:
    """And not to itself, which knows it already."""
    one, other = EventStore(url, "lantern-t"), EventStore(url, "lantern-t")
    here, there = Ears(one), Ears(other)
    here.next(), there.next()  # they listen
    one.append([note("e1")], RECEIVED)
    there.next()
    assert [event.id for event in other.events()] == ["e1"]
    other.append([note("e2")], RECEIVED)
    here.next()
    assert [event.id for event in one.events()] == ["e1", "e2"]
    assert there.silent
    one.close()
    other.close()


def test_it_is_recorded_on_the_disk_before_it_is_acknowledged(url: str) -> None:
    """Also where the database is set not to wait for its disk."""
    with connected(url) as connection:
        connection.execute("ALTER DATABASE " + connection.info.dbname + " SET synchronous_commit = off")  # type: ignore[call-overload]
    store = EventStore(url, "lantern-t")
    place = store._place
    assert isinstance(place, PostgresRows)
    with place._engine.connect() as open_connection:
        assert open_connection.exec_driver_sql("SHOW synchronous_commit").scalar() == "on"
    store.close()


def test_a_database_in_another_encoding_is_refused(postgres: PostgresServer) -> None:
    """It could not hold every character."""
    url = postgres.new_database("ENCODING 'LATIN1' TEMPLATE template0")
    assert refused(url).found == "server_encoding = LATIN1"


def test_a_database_that_is_not_there_is_told(url: str) -> None:
    """With what to do."""
    problem = refused(url.replace("/sortie", "/nosuch"))
    assert "a database or table that is missing" in problem.found
    assert "Make the database" in problem.cure


def test_a_table_that_another_program_holds_is_told(url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """After a bounded time; nothing is recorded, and it goes on once the table is free."""
    monkeypatch.setattr("dashboard.log.store.postgres.SESSION", ("SET lock_timeout = '100ms'",))
    store = EventStore(url, "lantern-t")
    with connected(url) as other, other.transaction():
        other.execute("LOCK TABLE events IN EXCLUSIVE MODE")
        with pytest.raises(InputError, match="another program keeps locked .*Nothing of this was recorded"):
            store.append([note("e1")], RECEIVED)
    assert store.append([note("e1")], RECEIVED)[0].status == "recorded"
    store.close()


def test_a_commit_whose_answer_is_lost_is_looked_up(url: str) -> None:
    """The connection goes after the commit and before its answer: the event is there, so it is acknowledged, once."""
    store, other = EventStore(url, "lantern-t"), EventStore(url, "lantern-t")
    place = store._place
    assert isinstance(place, PostgresRows)
    driver = place._engine.dialect.loaded_dbapi
    commit = place._engine.dialect.do_commit

    def commit_and_lose(connection: object) -> None:
        commit(connection)  # type: ignore[arg-type]
        place._engine.dialect.do_commit = commit  # type: ignore[method-assign]
        raise driver.OperationalError("server closed the connection unexpectedly")

    place._engine.dialect.do_commit = commit_and_lose  # type: ignore[method-assign]
    assert [(o.status, o.seq) for o in store.append([note("e1")], RECEIVED)] == [("recorded", 1)]
    assert [event.id for event in other.events()] == ["e1"]
    assert other.append([note("e1")], RECEIVED)[0].status == "already recorded"
    store.close()
    other.close()


# --- a server that stops and comes back -----------------------------------------------------------


def test_a_database_that_goes_and_comes_back(own_postgres: PostgresServer) -> None:
    """Meanwhile nothing is recorded and it says so; afterwards it goes on by itself, and whoever watches is told of both."""
    url = own_postgres.new_database()
    store = EventStore(url, "lantern-t")
    ears = Ears(store)
    ears.next()
    store.append([note("e1")], RECEIVED)
    for how in (signal.SIGINT, signal.SIGQUIT):
        own_postgres.stop(how)
        ears.next()
        with pytest.raises(InputError) as wrong:
            store.append([note("lost")], RECEIVED)
        problem = the_only(wrong.value.problems)
        assert "a database that cannot be reached" in problem.found
        assert problem.cure.startswith("Nothing of this was recorded.")
        with pytest.raises(InputError, match="a database that cannot be reached"):
            store.events()
        assert '"rows": 1' in store.backup_text()  # what was read is still at hand
        own_postgres.start()
        ears.next()
        assert [event.id for event in store.events()] == ["e1"]
    assert [(o.status, o.seq) for o in store.append([note("e1"), note("e2")], RECEIVED)] == [
        ("already recorded", 1), ("recorded", 2),
    ]
    store.close()


def test_a_server_that_does_not_write_to_its_disk_is_refused(own_postgres: PostgresServer) -> None:
    """What it confirms could be lost with the power."""
    url = own_postgres.new_database()
    own_postgres.stop()
    own_postgres.start("fsync=off")
    assert refused(url).found == "fsync = off"


def test_the_clock_of_the_database_can_be_asked(url: str) -> None:
    """It tells an instant in UTC, which moves on."""
    store = EventStore(url, "lantern-t")
    first, second = store.clock(), store.clock()
    assert first is not None and second is not None and first < second and first.utcoffset() == timedelta(0)
    store.close()
