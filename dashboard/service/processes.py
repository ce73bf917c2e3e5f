"""What all processes of the server have in common: how they are started, and which events one of them has already."""

from __future__ import annotations

import multiprocessing
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:  # loading it takes long, and `start_early` is called first of all
    from dashboard.core.events.event import Event

Key = tuple[str, int | None]
PRELOADED = ["dashboard.service.trial.worker", "dashboard.service.beside.worker"]


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


def key(event: Event) -> Key:
    """By what an event is known that was given to a process.

    Parameters
    ----------
    event
        Of any kind.

    Returns
    -------
    tuple of (str, int or None)
        Its id and its `seq`.
    """
    return event.id, event.seq


def common(events: Sequence[Event], sent: Sequence[Key]) -> int:
    """Count the events that were sent already, from the first on.

    Parameters
    ----------
    events
        Those that the process is to have.
    sent
        The `key` of each event that it has.

    Returns
    -------
    int
        How many of the first ones are the same.
    """
    for place, (event, known) in enumerate(zip(events, sent, strict=False)):
        if (event.id, event.seq) != known:
            return place
    return min(len(events), len(sent))
