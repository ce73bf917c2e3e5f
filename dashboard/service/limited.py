"""Work that is interrupted when it takes too long, on the thread that runs it.

A loop of Python is interrupted between two of its steps. A single long call into a library is interrupted once it returns; if it
holds the interpreter meanwhile, the server does not answer either. Every event was tried before it counts, in a process that the
kernel ends even during such a call (`trial.worker`). Only an event that makes a call long at a later time can still do this.
"""

from __future__ import annotations

import ctypes
import threading
from collections.abc import Callable
from typing import TypeVar

Result = TypeVar("Result")


class Overran(Exception):
    """The work took too long."""


def limited(work: Callable[[], Result], longest_s: float) -> Result:
    """Run `work` on this thread.

    Parameters
    ----------
    work
        What is run.
    longest_s
        Real seconds after which it is interrupted.

    Returns
    -------
    object
        What `work` returns.

    Raises
    ------
    Overran
        When it was interrupted.
    """
    thread, lock, is_over = threading.get_ident(), threading.Lock(), False

    def interrupt() -> None:
        with lock:
            if not is_over:
                _raise_in(thread, Overran)

    timer = threading.Timer(longest_s, interrupt)
    timer.daemon = True
    timer.start()
    try:
        return work()
    finally:
        timer.cancel()
        with lock:
            is_over = True
            _raise_in(thread, None)  # an interrupt that came with the last step must not hit what follows


def _raise_in(thread: int, what: type[Overran] | None) -> None:
    """Have a thread raise `what` before its next step; None: what it was to raise is forgotten."""
    ctypes.pythonapi.PyThreadState_SetAsyncExc(ctypes.c_ulong(thread), None if what is None else ctypes.py_object(what))
