"""Comparing the clocks of two computers by one question and its answer."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import NamedTuple

from dashboard.words import duration

CLOCK_OFF_S = 2.0  # a clock that is further off than this is said to be wrong


class Offset(NamedTuple):
    """How far a clock is ahead of that of this computer, and by how much that may be wrong, in seconds."""

    ahead_s: float
    error_s: float

    @property
    def is_off(self) -> bool:
        """Whether the clock is off by more than `CLOCK_OFF_S` for certain."""
        return abs(self.ahead_s) - self.error_s > CLOCK_OFF_S

    def in_words(self) -> str:
        """``12 s ahead``, ``3 min behind``, ``0.4 s ahead``."""
        size = abs(self.ahead_s)
        length = duration(size / 60) if size >= 120 else f"{size:.0f} s" if size >= 10 else f"{size:.1f} s"
        return f"{length} {'ahead' if self.ahead_s >= 0 else 'behind'}"

    def as_dict(self) -> dict[str, float]:
        """As `/health` says it."""
        return {"ahead_s": round(self.ahead_s, 3), "error_s": round(self.error_s, 3)}


def offset_of(sent: datetime, answered: datetime, heard: datetime) -> Offset:
    """How far the clock is ahead that answered.

    Parameters
    ----------
    sent, heard : datetime
        When the question was sent and its answer heard, on the clock of this computer. The answer was given between the two,
        so half of that time is the most by which the offset is wrong.
    answered : datetime
        What the other clock said.
    """
    half = (heard - sent) / 2
    return Offset((answered - (sent + half)).total_seconds(), half.total_seconds())


def asked(clock: Callable[[], datetime | None]) -> Offset | None:
    """How far a clock is ahead that is asked now; None: it does not tell."""
    sent = datetime.now(UTC)
    answered = clock()
    return None if answered is None else offset_of(sent, answered, datetime.now(UTC))
