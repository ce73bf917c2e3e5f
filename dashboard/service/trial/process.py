"""Asks the trial process: starts it, limits its time, and starts it again after it was ended."""

from __future__ import annotations

import logging
import multiprocessing.process
import signal
import threading
from collections.abc import Sequence
from datetime import datetime
from multiprocessing.connection import Connection

from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.service.compute import compute_view
from dashboard.service.processes import common, context
from dashboard.service.session.clock import Mode
from dashboard.service.trial.worker import Ask, Broke, Cycle, Ran, serve_questions

BUDGET_S = 3.0
FIRST_BUDGET_S = 20.0
BUDGET_PER_EVENT_S = 0.002
TIMES_KNOWN = 4.0
WALL_PER_BUDGET = 5.0
LONGEST_START_S = 120.0

log = logging.getLogger("tetherline")


class TrialClosed(OSError):
    """The trial process was closed, so nothing can be tried."""


class TrialProcess:
    """A process in which events are tried. Not safe to use from several threads at once.

    Parameters
    ----------
    plan : Plan
        As briefed.
    cycle : callable
        The cycle to run: a function at the top of a module, or something else that can be sent to the process.
    """

    def __init__(self, plan: Plan, cycle: Cycle = compute_view) -> None:
        self._plan, self._cycle = plan, cycle
        self._context = context()
        self._process: multiprocessing.process.BaseProcess | None = None
        self._connection: Connection | None = None
        self._sent: list[Event] = []
        self._took_s: float | None = None
        self._closed = threading.Event()

    def run(
        self, events: Sequence[Event], now: datetime, mode: Mode, *, compare: int | None = None,
        later: datetime | None = None,
    ) -> Ran | Broke:
        """Run the cycle on these events.

        Parameters
        ----------
        events : sequence of event models
            All events of the trial, the earlier ones first.
        now : datetime
            The instant of the cycle.
        mode : str
            The mode of the clock.
        compare : int or None
            How many of the events counted before; the figures of these are computed too. None: no comparison.
        later : datetime or None
            An instant after `now` at which the events are also tried; None: at `now` alone.

        Returns
        -------
        Ran or Broke
            `Broke` when the cycle failed, overran its budget or ended the process.

        Raises
        ------
        OSError
            When no process can be started.
        TrialClosed
            When `close` was called.
        """
        budget_s = self._budget_s(len(events)) * (1 + (compare is not None) + (later is not None))
        was_killed = False
        while True:
            connection = self._connected()
            keep = common(events, self._sent)
            ask = Ask(keep, list(events[keep:]), now, mode, compare, later, budget_s)
            try:
                connection.send(ask)
                self._sent = list(events)
                if not connection.poll(budget_s * WALL_PER_BUDGET):
                    self._end()
                    return Broke(f"it kept the cycle busy for more than {budget_s * WALL_PER_BUDGET:.0f} s")
                answer: Ran | Broke = connection.recv()
            except (EOFError, BrokenPipeError, ConnectionResetError):
                code = self._end()
                if self._closed.is_set():
                    raise TrialClosed from None
                if code == -signal.SIGKILL and not was_killed:
                    was_killed = True  # something else on this computer killed the process: ask once more
                    continue
                return Broke(_why_ended(code, budget_s))
            if isinstance(answer, Ran):
                self._took_s = answer.took_s
            if compare is not None:  # what was only tried may never be recorded, and its id and `seq` come again
                del self._sent[compare:]
            return answer

    def close(self) -> None:
        """Kill the process, even in the middle of a trial."""
        self._closed.set()
        process = self._process
        if process is not None:
            process.kill()

    def _budget_s(self, events: int) -> float:
        """Processor time for one cycle, in seconds: from the last cycle, and never more than the size of the log allows.

        Without that limit each slow entry would allow the next one to be slower still.
        """
        most_s = FIRST_BUDGET_S + BUDGET_PER_EVENT_S * events
        return most_s if self._took_s is None else min(most_s, BUDGET_S + TIMES_KNOWN * self._took_s)

    def _connected(self) -> Connection:
        if self._closed.is_set():
            raise TrialClosed
        if self._connection is None or self._process is None or not self._process.is_alive():
            self._end()
            mine, its = self._context.Pipe()
            process = self._context.Process(
                target=serve_questions, args=(its, self._plan, self._cycle), name="trial", daemon=True
            )
            process.start()
            its.close()
            self._process, self._connection = process, mine
            if self._closed.is_set():  # meanwhile, on another thread
                process.kill()
            self._wait_until_ready(mine)
        assert self._connection is not None
        return self._connection

    def _wait_until_ready(self, connection: Connection) -> None:
        """Wait until the process can take questions; OSError when it ends before, or takes too long."""
        try:
            if connection.poll(LONGEST_START_S):
                connection.recv()
                return
        except (EOFError, ConnectionResetError):
            pass
        code = self._end()
        if self._closed.is_set():
            raise TrialClosed
        raise OSError(f"the process in which events are tried did not start (exit code {code})")

    def _end(self) -> int | None:
        """End the process; gives its exit code."""
        self._sent = []
        if self._connection is not None:
            self._connection.close()
            self._connection = None
        process, self._process = self._process, None
        if process is None:
            return None
        process.join(0.2)
        if process.is_alive():
            process.kill()
            process.join(5.0)
        return process.exitcode


def _why_ended(code: int | None, budget_s: float) -> str:
    if code is not None and code == -getattr(signal, "SIGPROF", 0):
        return f"it kept the cycle busy for more than {budget_s:.0f} s of processor time"
    return f"it ended the process that computes the cycle (exit code {code})"
