"""What a desk follows: one sortie with its clock, its events, and what entering an event means.

A live sortie, the replay of a recorded run, and a rehearsal on one are three sessions of one kind: a desk holds one of
them and does not ask which.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from dashboard.core.base.findings import Unread
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.log.store import Outcome
from dashboard.service.session.clock import Clock
from dashboard.service.session.control import ReplayControl
from replay.recording import RecordedRun


class Known(NamedTuple):
    """What the room has at one instant."""

    events: list[Event]
    unread: list[Unread]


class Session(ABC):
    """One sortie as a desk follows it. Safe to use from several threads.

    Attributes
    ----------
    plan : Plan
        As briefed.
    clock : Clock
        What time it is, and the mode that the screens name.
    run : RecordedRun or None
        The recorded run that it shows; None: live.
    """

    plan: Plan
    clock: Clock
    run: RecordedRun | None = None

    @property
    def rehearsal(self) -> str:
        """Of which run this is a rehearsal, made here or replayed, in words; empty: of none."""
        return ""

    @abstractmethod
    def known_at(self, now: datetime) -> Known:
        """What the room has at `now`."""

    @abstractmethod
    def enter(self, items: Sequence[Any], received: datetime) -> list[Outcome]:
        """Take events as they came; one outcome each, in the same order.

        Raises
        ------
        InputError
            When they cannot be kept; it says whether any of them was.
        """

    def barred(self, item: Any, now: datetime) -> str | None:
        """Why an item may not be entered at all at `now`, whoever sends it; None: it may."""
        return None

    @abstractmethod
    def taken(self) -> Mapping[str, Event]:
        """Event id -> event, for every id that another event can no longer have, those still to come included."""

    @abstractmethod
    def rows_after(self, cursor: int, now: datetime) -> list[dict[str, Any]]:
        """The rows with a `cursor` above this one that the room has at `now`, as plain mappings in that order.

        Whoever asks again with the `cursor` of the last row misses nothing. What could not be understood comes with its
        `line` and `why`.
        """

    @abstractmethod
    def close(self) -> None:
        """Let go of the store."""

    # -- what only a live sortie has

    opening: str = ""  # what its store held when it was opened, in words

    @property
    def store_trouble(self) -> str | None:
        """Why what is entered is not on disk, and what to do; None: it is, or nothing is to be kept."""
        return None

    def received_last(self) -> datetime | None:
        """When the last event of its store was received; None: there is none, or it cannot be read."""
        return None

    @property
    def kept_in(self) -> str:
        """The address of its store, without a password; empty: nothing is kept."""
        return ""

    def store_clock(self) -> datetime | None:
        """What the clock of its store says now; None: it has none but that of this computer."""
        return None

    def watch(self, heard: Callable[[], None]) -> None:  # noqa: B027  # a recorded run hears of nothing
        """Have `heard` called, on another thread, when something may have come in from elsewhere."""

    def backup_text(self) -> str | None:
        """A backup of the store as JSON Lines, also of what is in memory only; None: nothing is kept."""
        return None

    # -- what only a recorded run has

    @property
    def run_ends(self) -> datetime | None:
        """Where the run ends, or the branch that is made of it; live: None."""
        return None

    def whole_run(self) -> list[Event]:
        """The events of the run from its beginning to its end, and what was entered while it was shown; live: none."""
        return []

    def control(self, wanted: ReplayControl) -> None:
        """Control the clock.

        Raises
        ------
        InputError
            When it cannot be done, or when the sortie is live.
        """
        cure = "Only the clock of a replay can be controlled."
        raise InputError([Problem("replay control", "a replay", "a live sortie", cure)])

    def run_words(self) -> dict[str, str] | None:
        """How the screens name the run; live: None."""
        return None

    def replay_bar(self, now: datetime) -> dict[str, Any] | None:
        """What the bar of a replay shows, as plain values; live: None."""
        return None
