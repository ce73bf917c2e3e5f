"""A real PostgreSQL server for tests and benchmarks: on a socket and a folder of its own, stopped at the end."""

from __future__ import annotations

import os
import pwd
import re
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path

import pytest

START_S = 60.0
OTHER_USERS = ("postgres", "nobody")  # the server refuses to run as root
USER = "tetherline"
PREFIX = "tl-pg-"
IN_MEMORY, ROOM_BYTES = Path("/dev/shm"), 2_000_000_000
_NUMBERS = count(1)


def folder_of_programs() -> Path:
    """Where `initdb` and `postgres` are: the newest of Debian's, else on PATH."""
    newest = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=_version)
    found = str(newest[-1]) if newest else shutil.which("initdb")
    if found is None:
        raise RuntimeError("expected the programs of a PostgreSQL server; found none. Install the package postgresql.")
    return Path(found).parent


def _version(path: Path) -> list[int]:
    return [int(number) for number in re.findall(r"\d+", str(path))]


class PostgresServer:
    """One server; `stop` and `start` go on with the same data.

    Parameters
    ----------
    folder : Path
        An empty folder for data, socket and log; its path must be short, as that of a socket must be.
    """

    def __init__(self, folder: Path) -> None:
        self._programs = folder_of_programs()
        self._data, self._socket, self._log = folder / "data", folder / "s", folder / "log"
        self._as = _other_user() if os.geteuid() == 0 else {}
        self._process: subprocess.Popen[bytes] | None = None
        if self._as:
            os.chown(folder, self._as["user"], self._as["group"])
        settings = ("--no-sync", "--encoding=UTF8", "--locale=C", "--auth=trust", f"--username={USER}")
        done = subprocess.run(
            [self._programs / "initdb", "-D", self._data, *settings], cwd=folder, capture_output=True, text=True, **self._as
        )
        assert done.returncode == 0, done.stdout + done.stderr
        self._socket.mkdir(0o700)
        if self._as:
            os.chown(self._socket, self._as["user"], self._as["group"])

    def start(self, *settings: str) -> None:
        """Start it with settings such as ``fsync=off``; returns once it answers."""
        command: list[str | Path] = [self._programs / "postgres", "-D", self._data, "-k", self._socket, "-c", "listen_addresses="]
        command += [part for setting in settings for part in ("-c", setting)]
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(command, cwd=self._data, stdout=log, stderr=log, **self._as)
        deadline = time.monotonic() + START_S
        while not self._answers():
            if self._process.poll() is not None or time.monotonic() > deadline:
                raise RuntimeError(f"PostgreSQL did not start: {self._log.read_text(errors='replace')}")
            time.sleep(0.02)

    def stop(self, how: signal.Signals = signal.SIGINT) -> None:
        """Stop it: at once and in order with SIGINT, as in a crash with SIGQUIT."""
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait(START_S)
            self._process = None

    def new_database(self, options: str = "") -> str:
        """The address of an empty database of its own."""
        name = f"sortie{next(_NUMBERS)}"
        self._sql(f"CREATE DATABASE {name} {options}")
        return f"postgresql+psycopg://{USER}@/{name}?host={self._socket}"

    def _sql(self, statement: str) -> None:
        import psycopg

        with psycopg.connect(host=str(self._socket), user=USER, dbname="postgres", autocommit=True) as connection:
            connection.execute(statement)  # type: ignore[call-overload]

    def _answers(self) -> bool:
        import psycopg

        try:
            self._sql("SELECT 1")
        except psycopg.OperationalError:
            return False
        return True


def _other_user() -> dict[str, int]:
    for name in OTHER_USERS:
        try:
            found = pwd.getpwnam(name)
        except KeyError:
            continue
        return {"user": found.pw_uid, "group": found.pw_gid}
    raise RuntimeError(f"expected one of the users {', '.join(OTHER_USERS)}, since PostgreSQL refuses root; found none")


@contextmanager
def running() -> Iterator[PostgresServer]:
    """A running server, thrown away at the end."""
    place = _fast_folder()
    _sweep(Path(place or tempfile.gettempdir()))
    with tempfile.TemporaryDirectory(prefix=f"{PREFIX}{os.getpid()}-", dir=place) as folder:
        server = PostgresServer(Path(folder))
        try:
            server.start()
            yield server
        finally:
            server.stop(signal.SIGQUIT)  # nobody needs its data in order


def _sweep(place: Path) -> None:
    """Remove what runs left that were killed: their folders bear the number of their process."""
    for folder in place.glob(f"{PREFIX}*"):
        owner = folder.name.removeprefix(PREFIX).partition("-")[0]
        try:
            os.kill(int(owner), 0)
        except ProcessLookupError:
            shutil.rmtree(folder, ignore_errors=True)
        except (PermissionError, ValueError):
            continue


def _fast_folder() -> Path | None:
    """A folder in memory, where there is room: nothing has to outlive the computer here. None: the usual one."""
    has_room = IN_MEMORY.is_dir() and os.access(IN_MEMORY, os.W_OK) and shutil.disk_usage(IN_MEMORY).free > ROOM_BYTES
    return IN_MEMORY if has_room else None


@pytest.fixture(scope="session")
def postgres() -> Iterator[PostgresServer]:
    """A running server, for databases of their own."""
    with running() as server:
        yield server


@pytest.fixture
def own_postgres() -> Iterator[PostgresServer]:
    """A running server that the test may stop."""
    with running() as server:
        yield server
