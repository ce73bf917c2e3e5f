"""What all processes of the server have in common: how they are started, and which events one of them has already."""

from __future__ import annotations

import gc
import multiprocessing
from collections.abc import Sequence
from itertools import compress
from operator import is_not
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:  # loading it takes long, and `start_early` is called first of all
    from dashboard.core.events.event import Event

GARBAGE_THRESHOLDS = (100_000, 50, 20)  # new objects before a look at them, looks before one at older and at all objects
PRELOADED = ["dashboard.service.trial.worker", "dashboard.service.beside.worker"]


def collect_garbage_less_often() -> None:
    """Have Python look for garbage in this process less often: a log is many objects that stay, and each look visits them."""
    gc.set_threshold(*GARBAGE_THRESHOLDS)


def context() -> Any:
    """How processes are started: from a small server where the system has one, which has loaded what they need."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    found: Any = multiprocessing.get_context("forkserver")
    found.set_forkserver_preload(PRELOADED)
    return found


def start_early() -> None:
    """Have the small server load what the processes need, beside this process, which loads what it needs itself."""
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
    for place in compress(range(most), map(is_not, events, sent)):  # as a rule they are the very same objects
        if (events[place].id, events[place].seq) != (sent[place].id, sent[place].seq):
            return place
    return most
