"""Decides which events take part: only events that ran in a trial. An event that breaks a cycle is kept out, with the reason.

Rules of this file
------------------
1. An event takes part once it ran in a trial, together with all events that took part before. Until then no cycle knows it.
2. Events that come together are tried together. If that fails, they are tried in halves. This finds the faulty events in few
   trials; the other events take part.
3. An event that breaks or overruns the cycle is in quarantine: shown like an unread line, word for word, and never folded.
4. When a cycle fails later on events that ran before, all of them are tried again at that instant, the earliest first.
5. An entry waits at most `LONGEST_SIFT_S` for its trials. Events that were not tried by then are not taken.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple, Protocol

from dashboard.core.base.findings import Unread
from dashboard.core.base.times import parse_instant
from dashboard.core.events.answers import Amend
from dashboard.core.events.event import Event
from dashboard.log.eventtext import text_of_event
from dashboard.service.log_index import has_grown_from
from dashboard.service.session.clock import Mode
from dashboard.service.session.session import KnownEvents
from dashboard.service.trial.effect import EntryFigures
from dashboard.service.trial.process import TrialClosed
from dashboard.service.trial.worker import SAME_FIGURES_S, Broke, Ran

LONGEST_SIFT_S = 20.0
PATIENCE_S = 0.2
FURTHEST_AHEAD = timedelta(hours=24)
QUARANTINED = "expected an event that the state can be computed with"

log = logging.getLogger("tetherline")


class Trial(Protocol):
    """Runs a cycle on events in isolation; `TrialProcess` is the implementation in use."""

    def run(
        self, events: Sequence[Event], now: datetime, mode: Mode, *, compare: int | None = None,
        later: datetime | None = None,
    ) -> Ran | Broke:
        """Run the cycle on these events.

        Parameters
        ----------
        events
            All events of the trial, the earlier ones first.
        now
            The instant of the cycle.
        mode
            The mode of the clock.
        compare
            How many of the events counted before; the figures of these are computed too. None: no comparison.
        later
            An instant after `now` at which the events are also tried; None: at `now` alone.

        Returns
        -------
        Ran or Broke
            `Broke` when the cycle failed or overran its budget.

        Raises
        ------
        OSError
            When no trial can be run; `TrialClosed` when `close` was called.
        """

    def close(self) -> None:
        """Free its resources."""


class Figured(NamedTuple):
    """The figures that the board shows, with the number of events that take part and the instant."""

    events: int
    now: datetime
    figures: EntryFigures


class Verdict(NamedTuple):
    """Result of trying new events.

    Parameters
    ----------
    broken : dict
        Id of each event that breaks the cycle -> why.
    untried : frozenset of str
        Ids of the events that were not tried in time.
    before : EntryFigures or None
        The figures without the new events; None: not computed.
    after : EntryFigures or None
        The figures with those that ran; None: not computed.
    """

    broken: dict[str, str]
    untried: frozenset[str]
    before: EntryFigures | None
    after: EntryFigures | None


class _Parts(NamedTuple):
    """Events of the room, and what was decided of each. None of the lists is ever changed."""

    events: list[Event]
    take_part: list[Event]
    held: list[Unread]
    undecided: list[Event]


_NOTHING = _Parts([], [], [], [])


class Sieve:
    """Keeps which events take part and which are in quarantine. Safe to use from several threads.

    Parameters
    ----------
    trial : Trial
        Runs the trials; closed with the sieve.
    counter_s : callable
        Gives real seconds that never go back.
    """

    def __init__(self, trial: Trial, counter_s: Callable[[], float] = time.monotonic) -> None:
        self._trial, self._counter_s = trial, counter_s
        self._trying = threading.Lock()
        self._deciding = threading.Lock()  # guards what follows; never held during a trial
        self._ran: set[str] = set()
        self._broken: dict[str, str] = {}
        self._parts = _NOTHING  # of the events up to the first that is not decided
        self._trouble: str | None = None

    @property
    def trouble(self) -> str | None:
        """Why no event can be tried at present, a clause; None: the last trial ran."""
        return self._trouble

    def close(self) -> None:
        """End the trials, also one that is running."""
        self._trial.close()

    def warm_up(self, known: KnownEvents, now: datetime, mode: Mode) -> None:
        """Run one trial on what takes part, so that the next entry does not wait for a process to be started.

        Parameters
        ----------
        known
            All that the room has.
        now
            The instant of the trial.
        mode
            How the clock runs.
        """
        with self._trying:
            self._run(self._parted(known.events).take_part, [], now, mode)

    def sifted(self, known: KnownEvents) -> KnownEvents:
        """Keep the events that take part, and add those in quarantine to the unread lines. This tries no event.

        Parameters
        ----------
        known
            All that the room has.

        Returns
        -------
        KnownEvents
            Events that were never tried are in neither list.
        """
        parts = self._parted(known.events)
        return KnownEvents(parts.take_part, [*known.unread, *parts.held])

    def admitted(self, known: KnownEvents, now: datetime, mode: Mode) -> KnownEvents:
        """Try new events, then sift. While another trial runs, new events wait for the next cycle.

        Parameters
        ----------
        known
            All that the room has.
        now
            The instant of the cycle.
        mode
            The mode of the clock.

        Returns
        -------
        KnownEvents
            As `sifted` gives it.
        """
        if self._parted(known.events).undecided and self._trying.acquire(timeout=PATIENCE_S):
            try:
                parts = self._parted(known.events)
                broken, _ = self._sift(parts.take_part, parts.undecided, now, mode, float("inf"))
                self._decide(parts.undecided, broken)
            finally:
                self._trying.release()
        return self.sifted(known)

    def recheck(self, known: KnownEvents, now: datetime, mode: Mode) -> bool:
        """Try all events that take part again, after a cycle failed on them.

        Parameters
        ----------
        known
            All that the room has.
        now
            The instant of the cycle that failed.
        mode
            The mode of the clock.

        Returns
        -------
        bool
            Whether an event was put into quarantine.
        """
        with self._trying:
            return self._heal(self._parted(known.events).take_part, now, mode)

    def tried(
        self, known: KnownEvents, new: Sequence[Event], now: datetime, mode: Mode, shown: Figured | None = None
    ) -> Verdict:
        """Try new events together with the events that take part. Those that ran do not take part before `take_in`.

        Parameters
        ----------
        known
            All that the room has.
        new
            Events that are not recorded yet.
        now
            The instant of the cycle.
        mode
            The mode of the clock.
        shown
            Figures of the board. If they have the same number of events and nearly the same instant, they are taken as the
            figures before. None: the figures before are computed.

        Returns
        -------
        Verdict
            Which events broke the cycle or were not tried, and the figures before and after.
        """
        with self._trying:
            base = self._parted(known.events).take_part
            if shown is not None and _fits(shown, len(base), now):
                quick = self._run(base, new, now, mode)
                if isinstance(quick, Ran):
                    return Verdict({}, frozenset(), shown.figures, quick.after)
            answer = self._run(base, new, now, mode, compare=True)
            if isinstance(answer, Broke):
                found: Broke | None = answer
                if answer.known_before is not False and self._heal(base, now, mode):
                    base, found = self._parted(base).take_part, None
                broken, untried = self._sift(base, new, now, mode, self._counter_s() + LONGEST_SIFT_S, found)
                kept = [event for event in new if event.id not in broken and event.id not in untried]
                answer = self._run(base, kept, now, mode, compare=True) if kept else None
                if not isinstance(answer, Ran):
                    return Verdict(broken, untried, None, None)
                return Verdict(broken, untried, answer.before, answer.after)
        if answer is None:
            return Verdict({}, frozenset(), None, None)
        return Verdict({}, frozenset(), answer.before, answer.after)

    def take_in(self, ids: Iterable[str]) -> None:
        """Let events take part from now on.

        Parameters
        ----------
        ids
            Ids of events that ran when they were `tried`, and that are recorded now.
        """
        taken = set(ids)
        with self._deciding:
            self._ran.update(taken - self._broken.keys())

    def _decide(self, events: Sequence[Event], broken: dict[str, str]) -> None:
        """Put the broken ones of these events into quarantine, also those that took part before, and let the rest take part."""
        with self._deciding:
            if not self._ran.isdisjoint(broken):
                self._ran.difference_update(broken)
                self._parts = _NOTHING
            self._broken.update(broken)
            self._ran.update(event.id for event in events if event.id not in broken)

    def _parted(self, events: list[Event]) -> _Parts:
        """Part events into those that take part, those in quarantine, and those not tried yet; reads only what is new."""
        with self._deciding:
            if not has_grown_from(events, self._parts.events):
                self._parts = _NOTHING
            new = events[len(self._parts.events):]
            undecided = (place for place, e in enumerate(new) if e.id not in self._ran and e.id not in self._broken)
            first = next(undecided, len(new))
            self._parts = self._with(self._parts, new[:first])
            return self._with(self._parts, new[first:])

    def _with(self, parts: _Parts, more: list[Event]) -> _Parts:
        if not more:
            return parts
        ran, broken = self._ran, self._broken
        return _Parts(
            [*parts.events, *more],
            [*parts.take_part, *(event for event in more if event.id in ran)],
            [*parts.held, *(_in_quarantine(event, broken[event.id]) for event in more if event.id in broken)],
            [*parts.undecided, *(event for event in more if event.id not in ran and event.id not in broken)],
        )

    def _heal(self, base: Sequence[Event], now: datetime, mode: Mode) -> bool:
        """If the events that take part fail, sift them all again. Returns whether an event was put into quarantine."""
        if not base or not isinstance(self._run(base, [], now, mode), Broke):
            return False
        ordered = sorted(base, key=lambda event: (event.came_in, event.seq or 0))
        broken, _ = self._sift([], ordered, now, mode, float("inf"))
        self._decide(ordered, broken)
        return bool(broken)

    def _sift(
        self, base: Sequence[Event], new: Sequence[Event], now: datetime, mode: Mode, until_s: float,
        found: Broke | None = None,
    ) -> tuple[dict[str, str], frozenset[str]]:
        """Id of each event that breaks the cycle -> why, and the ids of the events that were not tried in time.

        `found` is the result of an earlier trial of all of them; None: there was none.
        """
        if not new:
            return {}, frozenset()
        if self._counter_s() > until_s:
            return {}, frozenset(event.id for event in new)
        answer = found or self._run(base, new, now, mode)
        if not isinstance(answer, Broke):
            return {}, frozenset()
        if len(new) == 1:
            log.warning("Event %s is in quarantine: %s", new[0].id, answer.why)
            return {new[0].id: answer.why}, frozenset()
        middle = len(new) // 2
        first_broken, first_untried = self._sift(base, new[:middle], now, mode, until_s)
        kept = [e for e in new[:middle] if e.id not in first_broken and e.id not in first_untried]
        broken, untried = self._sift([*base, *kept], new[middle:], now, mode, until_s)
        return {**first_broken, **broken}, first_untried | untried

    def _run(
        self, base: Sequence[Event], new: Sequence[Event], now: datetime, mode: Mode, *, compare: bool = False
    ) -> Ran | Broke | None:
        """Run one trial. None: this computer cannot run one; then no event is kept out."""
        try:
            answer = self._trial.run(
                [*base, *new], now, mode, compare=len(base) if compare else None, later=_latest(new, now)
            )
        except TrialClosed:
            return None
        except OSError as wrong:
            if self._trouble is None:
                log.exception("Events are not tried before they count, since no process can be started for it")
            self._trouble = str(wrong) or type(wrong).__name__
            return None
        self._trouble = None
        return answer


def _fits(shown: Figured, events: int, now: datetime) -> bool:
    """Whether figures have this number of events and an instant near enough to `now` to be compared."""
    return shown.events == events and abs((now - shown.now).total_seconds()) <= SAME_FIGURES_S


def _latest(new: Sequence[Event], now: datetime) -> datetime | None:
    """The latest time in new events that is after `now`, by at most a day; None: no time in them is after `now`."""
    ahead = [at for event in new for at in _times(event) if now < at <= now + FURTHEST_AHEAD]
    return max(ahead, default=None)


def _times(event: Event) -> list[datetime]:
    changed = event.changed().get("at") if isinstance(event, Amend) else None
    if isinstance(changed, datetime):
        return [event.at, changed]
    try:
        return [event.at] if changed is None else [event.at, parse_instant(changed)]
    except (ValueError, TypeError):
        return [event.at]


def in_quarantine(why: str) -> str:
    """The reason as it is shown beside a line in quarantine.

    Parameters
    ----------
    why
        What the event did to the cycle, a clause that follows "found that".

    Returns
    -------
    str
        Three sentences.
    """
    kept = "It is kept as it came, and all figures are made without it. If it matters, enter it again in other words."
    return f"{QUARANTINED}; found that {why}. {kept}"


def is_in_quarantine(why: str) -> bool:
    """Whether an unread line is in quarantine.

    Parameters
    ----------
    why
        The reason that is shown beside the line.

    Returns
    -------
    bool
        True when `in_quarantine` made the reason.
    """
    return why.startswith(QUARANTINED)


def _in_quarantine(event: Event, why: str) -> Unread:
    where = f"event {event.id}" if event.seq is None else f"seq {event.seq}"
    return Unread(line=text_of_event(event), why=in_quarantine(why), where=where)
