"""Having work done in a process of its own: starting it, giving it the events, hearing its progress, and stopping it."""

from __future__ import annotations

import multiprocessing.process
import threading
import time
from collections.abc import Callable, Sequence
from multiprocessing.connection import Connection
from typing import Any

from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.service.beside.worker import Ask, Done, Failed, GiveWay, Hear, Job, Note, Noted, serve_jobs
from dashboard.service.limited import Overran, limited
from dashboard.service.processes import common, context

LOOK_S = 0.1
GIVES_WAY_S = 3.0


class WorkStopped(Exception):
    """The work was not wanted any more."""


class WorkOverran(Exception):
    """The work was not done in the time that it had."""


class WorkFailed(Exception):
    """The work could not be done; the text says why, `trace` where."""

    def __init__(self, said: str, trace: str = "") -> None:
        super().__init__(said)
        self.trace = trace


class Beside:
    """A process that does one job at a time. It is started for the first one. Safe to use from several threads.

    Parameters
    ----------
    plan : Plan
        Given to every job.
    name : str
        Of the process.
    """

    def __init__(self, plan: Plan, name: str) -> None:
        self._plan, self._name = plan, name
        self._working = threading.Lock()
        self._process: multiprocessing.process.BaseProcess | None = None
        self._connection: Connection | None = None
        self._sent: list[Event] = []
        self._closed = threading.Event()

    def work(
        self, job: Job, events: Sequence[Event], *given: Any,
        unwanted: Callable[[], bool] = lambda: False, note: Hear = lambda *said: None, longest_s: float | None = None,
    ) -> Any:
        """Have a job done, and wait for it.

        Parameters
        ----------
        job : callable
            A function of a module, called with the plan, the events, a `Note` and `given`.
        events : sequence of event models
        given
            Anything that can be pickled.
        unwanted : callable
            Asked several times a second; once it says so, the job is told. If it does not end then, its process is ended.
        note : callable
            Told the progress that the job notes.
        longest_s : float or None
            Real seconds for the job and the wait for earlier ones; then the process is ended. None: no limit.

        Returns
        -------
        object
            What the job returned.

        Raises
        ------
        WorkStopped
            When it was `unwanted`, or this was closed.
        WorkOverran
            When it was not done within `longest_s`.
        WorkFailed
            When the job raised an exception, or its process ended or could not be started.
        """
        until_s = None if longest_s is None else time.monotonic() + longest_s
        if not self._working.acquire(timeout=-1 if longest_s is None else longest_s):
            raise WorkOverran

        def stop() -> None:
            if unwanted() or self._closed.is_set():
                raise WorkStopped
            if until_s is not None and time.monotonic() > until_s:
                raise WorkOverran

        try:
            try:
                return self._done(job, events, given, stop, note)
            except (OSError, EOFError) as wrong:
                code = self._end()
                if self._closed.is_set():
                    raise WorkStopped from None
                ended = f"the process that works it out ended (exit code {code})"
                said = ended if code is not None else f"no process can work it out: {wrong}"
                raise WorkFailed(said) from None
        finally:
            self._working.release()

    def close(self) -> None:
        """End the process, in the middle of a job too."""
        self._closed.set()
        with self._working:
            self._end()

    def _done(
        self, job: Job, events: Sequence[Event], given: tuple[Any, ...], stop: Callable[[], None], note: Hear
    ) -> Any:
        """`stop` raises an exception once the job is to be stopped."""
        stop()
        connection = self._connected()
        keep = common(events, self._sent)
        connection.send(Ask(job, keep, list(events[keep:]), given))
        self._sent = list(events)
        while True:
            while not connection.poll(LOOK_S):
                try:
                    stop()
                except (WorkStopped, WorkOverran) as why:
                    if self._closed.is_set() or isinstance(why, WorkOverran) or not _gives_way(connection):
                        self._end()
                    raise
            match connection.recv():
                case Noted(said):
                    note(*said)
                case Done(result):
                    return result
                case Failed(said, trace):
                    raise WorkFailed(said, trace)

    def _connected(self) -> Connection:
        if self._connection is None or self._process is None or not self._process.is_alive():
            self._end()
            mine, its = context().Pipe()
            process = context().Process(target=serve_jobs, args=(its, self._plan), name=self._name, daemon=True)
            process.start()
            its.close()
            self._process, self._connection = process, mine
        return self._connection

    def _end(self) -> int | None:
        """End the process; gives its exit code (None: there was none)."""
        self._sent = []
        if self._connection is not None:
            self._connection.close()
            self._connection = None
        process, self._process = self._process, None
        if process is None:
            return None
        process.join(LOOK_S)
        if process.is_alive():
            process.kill()
            process.join(5.0)
        return process.exitcode


def _gives_way(connection: Connection) -> bool:
    """Tell the job that nobody waits for its answer, and whether it ended then. Its process then stays."""
    until_s = time.monotonic() + GIVES_WAY_S
    connection.send(GiveWay())
    while (left_s := until_s - time.monotonic()) > 0 and connection.poll(left_s):
        if not isinstance(connection.recv(), Noted):
            return True
    return False


class Here:
    """Does jobs as `Beside` does, but in this process: for a desk that is no server.

    Parameters
    ----------
    plan : Plan
        Given to every job.
    """

    def __init__(self, plan: Plan) -> None:
        self._plan = plan

    def work(
        self, job: Job, events: Sequence[Event], *given: Any, note: Hear = lambda *said: None, longest_s: float | None = None
    ) -> Any:
        """Do a job.

        Parameters
        ----------
        job, events, given, note, longest_s
            As for `Beside.work`.

        Returns
        -------
        object
            What the job returned.

        Raises
        ------
        WorkOverran
            When it was not done within `longest_s`.
        """
        if longest_s is None:
            return job(self._plan, list(events), Note(note, lambda: False), *given)
        try:
            return limited(lambda: job(self._plan, list(events), Note(note, lambda: False), *given), longest_s)
        except Overran:
            raise WorkOverran from None
