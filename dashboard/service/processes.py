"""How all processes of the server are started, and which events a process has already."""

from __future__ import annotations

import gc
import multiprocessing
from collections.abc import Sequence
from itertools import compress
from operator import is_not
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:  # loading it takes long, and `start_early` is called first of all
    from dashboard.core.events.event import Event

# For `gc.set_threshold`: new objects before a collection of the youngest, then collections before one of each older generation.
GARBAGE_THRESHOLDS = (100_000, 50, 20)
PRELOADED = ["dashboard.service.trial.worker", "dashboard.service.beside.worker"]


def collect_garbage_less_often() -> None:
    """Have Python look for garbage in this process less often: a log is many objects that stay, and each look visits them."""
    gc.set_threshold(*GARBAGE_THRESHOLDS)


def context() -> Any:
    """How processes are started: forked from a small server that has the modules loaded, or anew where the system has none."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    found: Any = multiprocessing.get_context("forkserver")
    found.set_forkserver_preload(PRELOADED)
    return found


def start_early() -> None:
    """Start the small server, so that it loads modules while this process loads its own."""
    if context().get_start_method() == "forkserver":
        from multiprocessing.forkserver import ensure_running  # not every system has it

        ensure_running()


def common(events: Sequence[Event], sent: Sequence[Event]) -> int:
    """Count the events that were sent already, from the first on.

    Parameters
    ----------
    events
        Those that the process is to have.
    sent
        Those that it has. An event is the same when its id and its `seq` are.

    Returns
    -------
    int
        How many of the first ones are the same.
    """
    most = min(len(events), len(sent))
    for place in compress(range(most), map(is_not, events, sent)):  # most are the same objects, which is cheaper to see
        if (events[place].id, events[place].seq) != (sent[place].id, sent[place].seq):
            return place
    return most
