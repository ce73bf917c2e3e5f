"""What a desk follows: one sortie with its clock, its events, and the way to enter events.

A live sortie, the replay of a recorded run, and a rehearsal are sessions with one interface. A desk has one session, and does
not need to know its kind.
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


class KnownEvents(NamedTuple):
    """Events and unread lines that the room has at one instant."""

    events: list[Event]
    unread: list[Unread]


class Session(ABC):
    """One sortie as a desk follows it. Safe to use from several threads.

    Attributes
    ----------
    plan : Plan
        As briefed.
    clock : Clock
        Gives the time, and the mode that the screens name.
    run : RecordedRun or None
        The recorded run that it shows; None: the sortie is live.
    """

    plan: Plan
    clock: Clock
    run: RecordedRun | None = None

    @property
    def rehearsal(self) -> str:
        """Of which run this is a rehearsal, in words; also when a saved rehearsal is replayed. Empty: it is none."""
        return ""

    @abstractmethod
    def known_at(self, now: datetime) -> KnownEvents:
        """Events and unread lines that the room has at an instant.

        Parameters
        ----------
        now
            The instant of the sortie.

        Returns
        -------
        KnownEvents
            Events entered here up to then included.
        """

    @abstractmethod
    def enter(self, items: Sequence[Any], received: datetime) -> list[Outcome]:
        """Take items as they came, and keep them.

        Parameters
        ----------
        items
            Events as plain values, not checked, or lines to be kept unread.
        received
            The instant of receipt, on the clock of the session.

        Returns
        -------
        list of Outcome
            One for each item, in the same order.

        Raises
        ------
        InputError
            When the items cannot be kept; the problem says whether any of them was.
        """

    def barred(self, item: Any, now: datetime) -> str | None:
        """Why nobody may enter an item at this instant.

        Parameters
        ----------
        item
            The item, not checked: a value decoded from JSON.
        now
            The instant that the board shows.

        Returns
        -------
        str or None
            The reason, with what to do; None: it may be entered.
        """
        return None

    @abstractmethod
    def taken(self) -> Mapping[str, Event]:
        """Event id -> event, for every id that is used. Recorded events that are still to come are included."""

    @abstractmethod
    def rows_after(self, cursor: int, now: datetime) -> list[dict[str, Any]]:
        """Rows of the log that came after a known row. Asking again with the `cursor` of the last row misses none.

        Parameters
        ----------
        cursor
            The `cursor` of the last known row; 0: none is known.
        now
            The instant of the sortie; only rows that the room has then are given.

        Returns
        -------
        list of dict
            Plain values, in order of `cursor`. An unread line has `line` and `why` in place of the fields of an event.
        """

    @abstractmethod
    def close(self) -> None:
        """Release the store."""

    # -- what only a live sortie has

    opening: str = ""  # content of its store when it was opened, in words

    @property
    def store_trouble(self) -> str | None:
        """Why entered events are not on disk, and what to do; None: they are, or the session keeps none."""
        return None

    def received_last(self) -> datetime | None:
        """When the last event of its store was received (UTC); None: it has no event, or cannot be read."""
        return None

    @property
    def kept_in(self) -> str:
        """The address of its store, without a password; empty: it has no store."""
        return ""

    def store_clock(self) -> datetime | None:
        """The time on the clock of its store now (UTC); None: the store has no clock other than that of this computer."""
        return None

    def watch(self, heard: Callable[[], None]) -> None:  # noqa: B027  # nothing else writes to a recorded run
        """Be told when another server may have recorded an event, and when the database was lost or came back.

        Parameters
        ----------
        heard
            Called each time, on another thread.
        """

    def backup_text(self) -> str | None:
        """A backup as JSON Lines, entries that are only in memory included; None: the session has no store."""
        return None

    # -- what only a recorded run has

    @property
    def run_ends(self) -> datetime | None:
        """Where the run ends, or the branch of a rehearsal; None: the sortie is live."""
        return None

    def whole_run(self) -> list[Event]:
        """All events of the run, also those still to come, and the events entered during it; empty: the sortie is live."""
        return []

    def control(self, wanted: ReplayControl) -> None:
        """Play, pause, seek, change the speed, or step.

        Parameters
        ----------
        wanted
            What to do.

        Raises
        ------
        InputError
            When the clock cannot do that, as in `control_replay`, or when the sortie is live.
        """
        cure = "Only the clock of a replay can be controlled."
        raise InputError([Problem("replay control", "a replay", "a live sortie", cure)])

    def run_words(self) -> dict[str, str] | None:
        """Title, date, setting and rehearsal of the run, as the screens show them; None: the sortie is live."""
        return None

    def replay_bar(self, now: datetime) -> dict[str, Any] | None:
        """Content of the bar of a replay.

        Parameters
        ----------
        now
            The instant of the sortie.

        Returns
        -------
        dict or None
            Plain values; instants as text, PET in minutes. None: the sortie is live.
        """
        return None
