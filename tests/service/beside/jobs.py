"""Jobs for the tests of the process beside: functions of a module, since the process imports them."""

from __future__ import annotations

import os
import time
from typing import Any


def told(plan: Any, events: list[Any], note: Any, *given: Any) -> tuple[Any, ...]:
    """The sortie, the ids of the events, what was given, and the process."""
    note("looking", 1, 2)
    return plan.sortie.id, [event.id for event in events], given, os.getpid()


def broken(plan: Any, events: list[Any], note: Any) -> None:
    raise ValueError("a gap")


def gone(plan: Any, events: list[Any], note: Any) -> None:
    os._exit(3)


def attentive(plan: Any, events: list[Any], note: Any) -> None:
    note(os.getpid())
    while not note.unwanted():
        time.sleep(0.01)


def endless(plan: Any, events: list[Any], note: Any) -> None:
    note("begun")
    while True:
        time.sleep(0.01)
