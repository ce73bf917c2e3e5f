"""Compares the clocks of two computers by one question and its answer."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import NamedTuple

from dashboard.words import duration

CLOCK_OFF_S = 2.0  # a clock that is further off than this is reported


class Offset(NamedTuple):
    """How far a clock is ahead of the clock of this computer.

    Parameters
    ----------
    ahead_s : float
        In seconds; negative is behind.
    error_s : float
        Largest possible error of it, in seconds.
    """

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
        """Its fields in the answer of `/health`."""
        return {"ahead_s": round(self.ahead_s, 3), "error_s": round(self.error_s, 3)}


def offset_of(sent: datetime, answered: datetime, heard: datetime) -> Offset:
    """How far ahead the clock is that answered a question.

    Parameters
    ----------
    sent, heard : datetime
        When the question was sent and its answer received, on the clock of this computer. The answer was given between the
        two, so half of that time is the largest possible error.
    answered : datetime
        The time that the other clock gave.

    Returns
    -------
    Offset
        With its largest possible error.
    """
    half = (heard - sent) / 2
    return Offset((answered - (sent + half)).total_seconds(), half.total_seconds())


def asked(clock: Callable[[], datetime | None]) -> Offset | None:
    """Ask a clock now how far ahead it is.

    Parameters
    ----------
    clock
        Gives its time; None when it has none to give.

    Returns
    -------
    Offset or None
        None: the clock gave no time.
    """
    sent = datetime.now(UTC)
    answered = clock()
    return None if answered is None else offset_of(sent, answered, datetime.now(UTC))
