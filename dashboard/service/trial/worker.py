"""The process in which events are tried: it runs the same cycle as the desk, and says how that went.

It answers one question after another until its connection is closed. The kernel ends it when a question takes more
processor time than its budget (`ITIMER_PROF`), which also holds inside a long step of a library; and its memory is
capped. Where the system has neither, the desk's own limit of time remains.
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
from dashboard.service.session.clock import Mode
from dashboard.service.trial.effect import Figures, figures_of_state

MEMORY_BYTES = 2_000_000_000
SAME_FIGURES_S = 5.0

Cycle = Callable[[Plan, Sequence[Event], Sequence[Any], datetime, Mode], View]


class Ask(NamedTuple):
    """One question.

    The events to try are the first `keep` of the question before, and `more`. `compare`: how many of them there were
    before what is entered now, for figures to compare with; None: no comparison. `later`: an instant after `now` at which
    they are tried as well. `budget_s`: processor time for all of it.
    """

    keep: int
    more: list[Event]
    now: datetime
    mode: Mode
    compare: int | None
    later: datetime | None
    budget_s: float


class Ran(NamedTuple):
    """The cycle ran: the figures before (None: not asked for) and after, and the processor time of the cycle."""

    before: Figures | None
    after: Figures
    took_s: float


class Broke(NamedTuple):
    """The cycle did not run, and why; `known_before`: whether it already failed without what is entered now, if that is known."""

    why: str
    known_before: bool | None = None


class _Figured(NamedTuple):
    """The figures of the first so many events at an instant."""

    events: int
    now: datetime
    figures: Figures


class Worker:
    """Answers questions about the events of one plan."""

    def __init__(self, plan: Plan, cycle: Cycle) -> None:
        self._plan, self._cycle = plan, cycle
        self._events: list[Event] = []
        self._last: _Figured | None = None

    def answer(self, ask: Ask) -> Ran | Broke:
        """Run the cycle on the events of a question."""
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
        except Exception as wrong:  # whatever it is: it would have stopped the board
            return Broke(_reason(wrong), known_before=None if ask.compare is None else False)
        self._last = _Figured(len(self._events), ask.now, after)
        return Ran(before, after, took_s)

    def _before(self, ask: Ask, count: int) -> Figures:
        last = self._last
        if last is not None and last.events == count and abs((ask.now - last.now).total_seconds()) <= SAME_FIGURES_S:
            return last.figures
        return self._run(ask, count, ask.now)

    def _run(self, ask: Ask, count: int, now: datetime) -> Figures:
        """One cycle as the desk runs it, with what it hands on as text."""
        view = self._cycle(self._plan, self._events[:count], (), now, ask.mode)
        orjson.dumps(view.board, option=orjson.OPT_NON_STR_KEYS)
        view.state.model_dump_json()
        return figures_of_state(view.state)


def serve_questions(connection: Connection, plan: Plan, cycle: Cycle = compute_view) -> None:
    """Answer questions until the connection is closed. The body of the process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server, which then closes the connection
    _cap_memory()
    worker = Worker(plan, cycle)
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
    """Have the kernel end this process after so much processor time; 0: no longer."""
    if sys.platform != "win32":
        signal.setitimer(signal.ITIMER_PROF, seconds)


def _cap_memory() -> None:
    """At most so many bytes more than the process has now."""
    if sys.platform != "linux":
        return
    import resource

    with open("/proc/self/statm", encoding="ascii") as statm:
        has = int(statm.read().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (has + MEMORY_BYTES, resource.RLIM_INFINITY))
