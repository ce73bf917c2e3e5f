"""The process in which events are tried. It runs the same cycle as the desk, and reports the result.

It answers one question after another until its connection is closed. The kernel ends it when a question takes more processor
time than its budget (`ITIMER_PROF`), even during a long call into a library. Its memory is limited too. If the system has
neither limit, the time limit of the desk remains.
"""

from __future__ import annotations

import signal
import sys
import time
from collections.abc import Callable, Sequence
from datetime import datetime
from multiprocessing.connection import Connection
from typing import Any, NamedTuple

import orjson

from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.service.compute import View, compute_view
from dashboard.service.processes import collect_garbage_less_often
from dashboard.service.session.clock import Mode
from dashboard.service.trial.effect import EntryFigures, figures_of_state

MEMORY_BYTES = 2_000_000_000
SAME_FIGURES_S = 5.0
READY = "ready"  # sent before the first question: a process that cannot start is no fault of an event

Cycle = Callable[[Plan, Sequence[Event], Sequence[Any], datetime, Mode], View]


class Ask(NamedTuple):
    """One question.

    Parameters
    ----------
    keep : int
        How many events of the previous question to keep, from the first on.
    more : list of event models
        The events to try after them.
    now : datetime
        The instant of the cycle.
    mode : str
        The mode of the clock.
    compare : int or None
        How many of the events counted before; the figures of these are computed too. None: no comparison.
    later : datetime or None
        An instant after `now` at which the events are also tried; None: at `now` alone.
    budget_s : float
        Processor time for the whole question, in seconds.
    """

    keep: int
    more: list[Event]
    now: datetime
    mode: Mode
    compare: int | None
    later: datetime | None
    budget_s: float


class Ran(NamedTuple):
    """The cycle ran.

    Parameters
    ----------
    before : EntryFigures or None
        The figures of the events that counted before; None: no comparison was wanted.
    after : EntryFigures
        The figures of all events.
    took_s : float
        Processor time of one cycle, in seconds.
    """

    before: EntryFigures | None
    after: EntryFigures
    took_s: float


class Broke(NamedTuple):
    """The cycle failed.

    Parameters
    ----------
    why : str
        The reason, in words.
    known_before : bool or None
        Whether it already fails without the new events; None: not known.
    """

    why: str
    known_before: bool | None = None


class _Figured(NamedTuple):
    """The figures of the first `events` events at an instant."""

    events: int
    now: datetime
    figures: EntryFigures


class Worker:
    """Answers questions about the events of one plan."""

    def __init__(self, plan: Plan, cycle: Cycle) -> None:
        self._plan, self._cycle = plan, cycle
        self._events: list[Event] = []
        self._last: _Figured | None = None

    def answer(self, ask: Ask) -> Ran | Broke:
        """Run the cycle on the events of a question.

        Parameters
        ----------
        ask
            The question.

        Returns
        -------
        Ran or Broke
            `Broke` with the first exception of the cycle.
        """
        changed_from = ask.keep
        self._events[changed_from:] = ask.more
        if self._last is not None and self._last.events > changed_from:
            self._last = None
        before = None
        if ask.compare is not None:
            try:
                before = self._before(ask, ask.compare)
            except Exception as wrong:
                return Broke(_reason(wrong), known_before=True)
        began_s = time.process_time()
        try:
            after = self._run(ask, len(self._events), ask.now)
            took_s = time.process_time() - began_s
            if ask.later is not None:
                self._run(ask, len(self._events), ask.later)
        except Exception as wrong:  # any exception here would also stop the board
            return Broke(_reason(wrong), known_before=None if ask.compare is None else False)
        self._last = _Figured(len(self._events), ask.now, after)
        return Ran(before, after, took_s)

    def _before(self, ask: Ask, count: int) -> EntryFigures:
        last = self._last
        if last is not None and last.events == count and abs((ask.now - last.now).total_seconds()) <= SAME_FIGURES_S:
            return last.figures
        return self._run(ask, count, ask.now)

    def _run(self, ask: Ask, count: int, now: datetime) -> EntryFigures:
        """One cycle as the desk runs it, including the conversion of its results to JSON."""
        view = self._cycle(self._plan, self._events[:count], (), now, ask.mode)
        orjson.dumps(view.board, option=orjson.OPT_NON_STR_KEYS)
        view.state.model_dump_json()
        return figures_of_state(view.state)


def serve_questions(connection: Connection, plan: Plan, cycle: Cycle = compute_view) -> None:
    """Answer questions until the connection is closed. This is the main function of the process.

    Parameters
    ----------
    connection
        Brings questions (`Ask`), and takes the answers.
    plan
        As briefed.
    cycle
        The cycle to run.
    """
    collect_garbage_less_often()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server, which then closes the connection
    _cap_memory()
    worker = Worker(plan, cycle)
    connection.send(READY)
    while True:
        try:
            ask: Ask = connection.recv()
        except (EOFError, OSError):
            return
        _set_budget(ask.budget_s)
        answer = worker.answer(ask)
        _set_budget(0.0)
        try:
            connection.send(answer)
        except OSError:
            return


def _reason(wrong: Exception) -> str:
    return f"{type(wrong).__name__}: {wrong}"[:300]


def _set_budget(seconds: float) -> None:
    """Let the kernel end this process after this much more processor time; 0: remove the limit."""
    if sys.platform != "win32":
        signal.setitimer(signal.ITIMER_PROF, seconds)


def _cap_memory() -> None:
    """Limit the address space to `MEMORY_BYTES` more than the process has now."""
    if sys.platform != "linux":
        return
    import resource

    with open("/proc/self/statm", encoding="ascii") as statm:
        has = int(statm.read().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (has + MEMORY_BYTES, resource.RLIM_INFINITY))
