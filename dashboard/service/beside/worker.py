"""The process in which long work is done: one job after another, until its connection is closed."""

from __future__ import annotations

import contextlib
import os
import signal
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import Any, NamedTuple

from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.service.processes import collect_garbage_less_often

NICENESS = 10  # the cycle and the trials go first

Hear = Callable[..., None]
"""Told the progress that a job notes."""

Job = Callable[..., Any]
"""A function of a module, called with the plan, the events, a `Note`, and what else was given."""


@dataclass(frozen=True)
class Note:
    """How a job speaks with the one who asked: it is called with its progress.

    Parameters
    ----------
    hear : callable
    unwanted : callable
        Whether nobody waits for the answer any more. A job that takes long asks now and then, and ends.
    """

    hear: Hear
    unwanted: Callable[[], bool]

    def __call__(self, *said: Any) -> None:
        """Note the progress.

        Parameters
        ----------
        said
            Anything that can be pickled.
        """
        self.hear(*said)


class GiveWay(NamedTuple):
    """Nobody waits for the answer any more."""


class Ask(NamedTuple):
    """One job: on the first `keep` events of the job before, and `more`."""

    job: Job
    keep: int
    more: list[Event]
    given: tuple[Any, ...]


class Noted(NamedTuple):
    """Progress, as the job noted it."""

    said: tuple[Any, ...]


class Done(NamedTuple):
    """What the job returned."""

    result: Any


class Failed(NamedTuple):
    """The job raised an exception: in words, and where."""

    said: str
    trace: str


def serve_jobs(connection: Connection, plan: Plan) -> None:
    """Do jobs until the connection is closed. The body of the process.

    Parameters
    ----------
    connection
        Brings jobs, and takes their progress and results.
    plan
        The briefed plan, given to every job.
    """
    collect_garbage_less_often()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server, which then ends this process
    with contextlib.suppress(AttributeError, OSError):  # not every system has it
        os.nice(NICENESS)
    events: list[Event] = []
    while True:
        try:
            ask: Ask | GiveWay = connection.recv()
            if isinstance(ask, GiveWay):  # the job before was done already
                continue
            events[ask.keep:] = ask.more
            note = Note(lambda *said: connection.send(Noted(said)), unwanted=connection.poll)
            connection.send(_answer(ask, plan, events, note))
        except (EOFError, OSError):
            return


def _answer(ask: Ask, plan: Plan, events: list[Event], note: Note) -> Done | Failed:
    try:
        return Done(ask.job(plan, list(events), note, *ask.given))
    except Exception as wrong:
        return Failed(f"{type(wrong).__name__}: {wrong}", traceback.format_exc())
