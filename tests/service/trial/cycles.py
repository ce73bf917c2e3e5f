"""Cycles for tests of trials: a note says in its text what it does to the cycle."""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from dashboard.core.plan.model import Plan
from dashboard.service.compute import View, compute_view
from dashboard.service.session.clock import Mode

HANGS_AFTER = timedelta(minutes=10)


def brittle_view(plan: Plan, events: Sequence[Any], unread: Sequence[Any], now: datetime, mode: Mode) -> View:
    """The cycle of the desk, which a note breaks in the way that it names, once its time is reached."""
    for event in events:
        if event.kind == "note" and event.at <= now:
            do_to_the_cycle(event.text)
            if event.text == "hang later" and now >= event.at + HANGS_AFTER:
                do_to_the_cycle("hang")
    return compute_view(plan, events, unread, now, mode)


def do_to_the_cycle(text: str) -> None:
    """What a note of this text does."""
    if text == "break":
        raise ValueError("a gap in the rail")
    if text == "hang":
        while True:
            pass
    if text == "fill the memory":
        bytearray(4_000_000_000)
    if text == "end the process":
        os._exit(3)


def does_not_start(*_: Any) -> None:
    """The main function of a trial process on a computer where it cannot start."""
    os._exit(1)
