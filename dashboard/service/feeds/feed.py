"""Base of every kind of feed: its thread, how it hands entries over, and how it tries again."""

from __future__ import annotations

import logging
import threading
from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

from dashboard.core.base.problems import InputError
from dashboard.log.store import Quarantined
from dashboard.service.feeds.entries import Entry
from dashboard.service.feeds.status import Status

MOST_AT_ONCE = 500
FIRST_PAUSE_S, LONGEST_PAUSE_S = 0.5, 30.0
CLOSING_S = 5.0
NOT_YET_S = 0.1

log = logging.getLogger("tetherline")

EntryAnswer = dict[str, Any]
Take = Callable[[Sequence[Any], str], list[EntryAnswer] | None]
"""Hands items to the intake in the name of a feed.

Gives one outcome for each item, or None when the intake is not ready yet. Raises InputError when the items cannot be kept.
"""


class Backoff:
    """Pauses between tries. Each is twice the one before, up to `LONGEST_PAUSE_S`."""

    def __init__(self) -> None:
        self._next_s = FIRST_PAUSE_S

    def pause_s(self) -> float:
        """How long to wait before the next try, in seconds. Each call doubles the next pause."""
        pause_s, self._next_s = self._next_s, min(LONGEST_PAUSE_S, self._next_s * 2)
        return pause_s

    def reset(self) -> None:
        """Start again with the first pause, after a success."""
        self._next_s = FIRST_PAUSE_S


class Feed(ABC):
    """One source that is followed.

    Parameters
    ----------
    status : Status
        Keeps the name and the state of the feed.
    """

    def __init__(self, status: Status) -> None:
        self.status = status
        self._stopped = threading.Event()
        self._thread: threading.Thread | None = None
        self._take: Take | None = None
        self._since: datetime | None = None
        self._backoff = Backoff()

    @property
    def name(self) -> str:
        """Name of the feed on screens and in the log."""
        return self.status.name

    def start(self, take: Take, since: datetime | None = None) -> None:
        """Start to follow the source, in a thread of its own.

        Parameters
        ----------
        take : callable
            Hands entries to the intake.
        since : datetime or None
            When the store received its last event (UTC); older entries of the source need not be looked for. None: it has
            none.
        """
        self._take, self._since = take, since
        self._thread = threading.Thread(target=self._run, name=f"feed {self.name}", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Tell the thread to stop; returns at once."""
        self._stopped.set()

    def close(self) -> None:
        """Stop following, and wait for the thread up to `CLOSING_S`."""
        self.stop()
        if self._thread is not None:
            self._thread.join(CLOSING_S)

    @abstractmethod
    def follow(self) -> None:
        """Follow the source until it is lost, has ended, or the feed is stopped.

        Raises
        ------
        OSError
            When the source is lost. It is followed again after a pause.
        """

    # -- for the kinds of feed

    def is_stopped(self) -> bool:
        """Whether the feed was told to stop."""
        return self._stopped.is_set()

    def rest(self, seconds: float) -> bool:
        """Wait, or return at once when the feed is stopped.

        Parameters
        ----------
        seconds
            How long.

        Returns
        -------
        bool
            False when the feed was stopped.
        """
        return not self._stopped.wait(seconds)

    def connected(self) -> None:
        """Note that the source is connected, and log it if it was not before."""
        self._backoff.reset()
        if self.status.in_order():
            log.warning("Feed %s is followed again.", self.name)

    def hand_over(self, entries: Sequence[Entry]) -> bool:
        """Hand entries to the intake, again and again until all are kept.

        Parameters
        ----------
        entries
            In the order of the source.

        Returns
        -------
        bool
            True once all are kept; False when the feed was stopped before that.
        """
        parts = (entries[start : start + MOST_AT_ONCE] for start in range(0, len(entries), MOST_AT_ONCE))
        return all(self._hand_over(part) for part in parts)

    # -- inside

    def _run(self) -> None:
        while not self.is_stopped():
            try:
                self.follow()
                return
            except Exception as wrong:
                if self.is_stopped():
                    return
                why = wrong.strerror or str(wrong) if isinstance(wrong, OSError) else f"{type(wrong).__name__}: {wrong}"
                if not isinstance(wrong, OSError):
                    log.exception("Feed %s broke", self.name)
                self._pause("lost", why)

    def _pause(self, standing: Any, why: str) -> None:
        """Wait before the next try, and say so."""
        pause_s = self._backoff.pause_s()
        if self.status.in_trouble(standing, f"{why.rstrip('.')}. It is tried again every {pause_s:g} s."):
            log.warning("Feed %s is %s: %s. It is tried again.", self.name, standing, why.rstrip("."))
        self.rest(pause_s)

    def _hand_over(self, entries: Sequence[Entry]) -> bool:
        outcomes = self._taken(entries)
        if outcomes is None:
            return False
        unread = 0
        for entry, outcome in zip(entries, outcomes, strict=True):
            refused = outcome["status"] == "refused"
            if refused and len(entries) > 1:  # the other entries may be the reason: try it alone
                again = self._taken([entry])
                if again is None:
                    return False
                outcome = again[0]
                refused = outcome["status"] == "refused"
            if refused and self._taken([entry._replace(item=entry.kept_because(outcome["why"]))]) is None:
                return False
            unread += refused or outcome["status"] in ("unread", "quarantined", "conflict")
        self.status.counted(len(entries), unread)
        return True

    def _taken(self, entries: Sequence[Entry]) -> list[EntryAnswer] | None:
        """The outcomes of entries, which are handed over until they are kept; None: the feed was stopped before that."""
        assert self._take is not None
        waited = False
        while not self.is_stopped():
            try:
                outcomes = self._take([entry.item for entry in entries], self.name)
            except InputError as wrong:
                waited = True
                self._pause("waits", wrong.problems[0].text())
                continue
            except Exception as wrong:
                log.exception("Entries of feed %s could not be taken", self.name)
                if all(isinstance(entry.item, Quarantined) for entry in entries):
                    waited = True
                    self._pause("waits", f"{type(wrong).__name__}: {wrong}")
                    continue
                why = f"Expected an entry that the intake can process; found that it fails ({type(wrong).__name__}: {wrong})."
                return [{"status": "refused", "why": why} for _ in entries]
            if outcomes is None:
                self.rest(NOT_YET_S)
                continue
            if waited:
                self.connected()
            return outcomes
        return None
