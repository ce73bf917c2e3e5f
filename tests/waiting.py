"""Waiting for what must happen, however slow the machine: a condition, a generous deadline, and words when it does not come."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TypeVar

import pytest

DEADLINE_S = 60.0
AGAIN_S = 0.05

Value = TypeVar("Value")


def until(condition: Callable[[], Value], what: str, seconds: float = DEADLINE_S) -> Value:
    """The first true value of `condition`; the test fails with `what` when none comes in time."""
    deadline = time.monotonic() + seconds
    while True:
        if value := condition():
            return value
        if time.monotonic() > deadline:
            pytest.fail(f"did not happen within {seconds:g} s: {what}")
        time.sleep(AGAIN_S)


class StandingCounter:
    """A counter of real seconds that goes on only when it is told, or when someone sleeps: it stands in for `time`."""

    def __init__(self) -> None:
        self.seconds = 0.0

    def __call__(self) -> float:
        return self.seconds

    def monotonic(self) -> float:
        return self.seconds

    def sleep(self, seconds: float) -> None:
        self.seconds += seconds
