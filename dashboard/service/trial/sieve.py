"""Which events take part: those that ran in a trial. What breaks a cycle is kept out, with the reason.

Rules of this file
------------------
1. An event takes part once it ran in a trial, together with all that took part before. Until then no cycle knows it.
2. Events that come together are tried together. Only when that fails are they tried in halves, so that the ones to blame
   are found in few trials; the others take part.
3. An event that breaks or overruns the cycle is in quarantine: shown like an unread line, word for word, and never folded.
4. When a cycle fails later, on events that ran before, they are all tried anew at that instant, the earliest first.
5. An entry waits `LONGEST_SIFT_S` for its trials at most. What was not tried by then is not taken.
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
from dashboard.service.session.clock import Mode
from dashboard.service.session.session import Known
from dashboard.service.trial.effect import Figures
from dashboard.service.trial.process import TrialClosed
from dashboard.service.trial.worker import SAME_FIGURES_S, Broke, Ran

LONGEST_SIFT_S = 20.0
PATIENCE_S = 0.2
FURTHEST_AHEAD = timedelta(hours=24)
QUARANTINED = "expected an event that the state can be computed with"

log = logging.getLogger("tetherline")


class Trial(Protocol):
    """Runs a cycle on events where it can do no harm; `TrialProcess` is the one in use."""

    def run(
        self, events: Sequence[Event], now: datetime, mode: Mode, *, compare: int | None = None,
        later: datetime | None = None,
    ) -> Ran | Broke:
        """Run the cycle on these events."""

    def close(self) -> None:
        """Free its resources."""


class Figured(NamedTuple):
    """The figures that the board shows: of how many events that take part, and of which instant."""

    events: int
    now: datetime
    figures: Figures


class Verdict(NamedTuple):
    """What became of new events: why each broken one broke, by id; the ids of those not tried; figures before and after."""

    broken: dict[str, str]
    untried: frozenset[str]
    before: Figures | None
    after: Figures | None


class Sieve:
    """Keeps which events take part and which are in quarantine. Safe to use from several threads.

    Parameters
    ----------
    trial : Trial
    counter_s : callable
        A counter of real seconds.
    """

    def __init__(self, trial: Trial, counter_s: Callable[[], float] = time.monotonic) -> None:
        self._trial, self._counter_s = trial, counter_s
        self._trying = threading.Lock()
        self._ran: set[str] = set()
        self._broken: dict[str, str] = {}

    def close(self) -> None:
        """End the trials, one that runs included."""
        self._trial.close()

    def warm_up(self, known: Known, now: datetime, mode: Mode) -> None:
        """Run one trial on what takes part, so that the next entry does not wait for a process to be started."""
        with self._trying:
            self._run([event for event in known.events if event.id in self._ran], [], now, mode)

    def sifted(self, known: Known) -> Known:
        """What takes part of what the room has, and what is in quarantine among the unread. Tries nothing."""
        ran, broken = self._ran, self._broken
        kept = [event for event in known.events if event.id in ran]
        held = [_in_quarantine(event, broken[event.id]) for event in known.events if event.id in broken]
        return Known(kept, [*known.unread, *held])

    def admitted(self, known: Known, now: datetime, mode: Mode) -> Known:
        """What takes part, new events included once they ran; while a trial is busy they wait for the next cycle."""
        new = [event for event in known.events if event.id not in self._ran and event.id not in self._broken]
        if new and self._trying.acquire(timeout=PATIENCE_S):
            try:
                base = [event for event in known.events if event.id in self._ran]
                broken, _ = self._sift(base, new, now, mode, float("inf"))
                self._take_in(new, broken)
            finally:
                self._trying.release()
        return self.sifted(known)

    def recheck(self, known: Known, now: datetime, mode: Mode) -> bool:
        """Try all that takes part anew, since a cycle failed on it; whether something was put into quarantine."""
        with self._trying:
            base = [event for event in known.events if event.id in self._ran]
            return self._heal(base, now, mode)

    def tried(
        self, known: Known, new: Sequence[Event], now: datetime, mode: Mode, shown: Figured | None = None
    ) -> Verdict:
        """Try new events on top of what takes part; those that ran take part only once they are told to `take_in`.

        If `shown` has the same events and instant, the earlier figures are not computed again.
        """
        with self._trying:
            base = [event for event in known.events if event.id in self._ran]
            if shown is not None and _fits(shown, len(base), now):
                quick = self._run(base, new, now, mode)
                if isinstance(quick, Ran):
                    return Verdict({}, frozenset(), shown.figures, quick.after)
            answer = self._run(base, new, now, mode, compare=True)
            if isinstance(answer, Broke):
                found: Broke | None = answer
                if answer.known_before is not False and self._heal(base, now, mode):
                    base, found = [event for event in base if event.id in self._ran], None
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
        """Events that were `tried`, ran, and are kept now, take part from here on."""
        self._ran = self._ran | set(ids)

    def _take_in(self, events: Sequence[Event], broken: dict[str, str]) -> None:
        self._broken = {**self._broken, **broken}
        self.take_in(event.id for event in events if event.id not in broken)

    def _heal(self, base: Sequence[Event], now: datetime, mode: Mode) -> bool:
        """Where the base itself fails, sift it from its beginning; whether something was put into quarantine."""
        if not base or not isinstance(self._run(base, [], now, mode), Broke):
            return False
        ordered = sorted(base, key=lambda event: (event.came_in, event.seq or 0))
        broken, _ = self._sift([], ordered, now, mode, float("inf"))
        self._ran = self._ran - broken.keys()
        self._broken = {**self._broken, **broken}
        return bool(broken)

    def _sift(
        self, base: Sequence[Event], new: Sequence[Event], now: datetime, mode: Mode, until_s: float,
        found: Broke | None = None,
    ) -> tuple[dict[str, str], frozenset[str]]:
        """Why each event that breaks the cycle does, by id; and the ids of those that were not tried in time.

        `found` is what a trial of all of them has found already.
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
        """Run one trial; None when none can be run on this computer: then nothing is kept out."""
        try:
            return self._trial.run(
                [*base, *new], now, mode, compare=len(base) if compare else None, later=_latest(new, now)
            )
        except TrialClosed:
            return None
        except OSError:
            log.exception("Events cannot be tried before they count: no process for it can be started")
            return None


def _fits(shown: Figured, events: int, now: datetime) -> bool:
    """Whether figures are of so many events, and near enough of this instant to be compared with those of it."""
    return shown.events == events and abs((now - shown.now).total_seconds()) <= SAME_FIGURES_S


def _latest(new: Sequence[Event], now: datetime) -> datetime | None:
    """The latest time within a day ahead that new events are dated, or date another event; None: they are of now or before."""
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
    """The reason as it is shown beside a line in quarantine."""
    return f"{QUARANTINED}; found that {why}. It is kept as it came, and does not count."


def is_in_quarantine(why: str) -> bool:
    """Whether a line that is not read for this reason is in quarantine."""
    return why.startswith(QUARANTINED)


def _in_quarantine(event: Event, why: str) -> Unread:
    where = f"event {event.id}" if event.seq is None else f"seq {event.seq}"
    return Unread(line=text_of_event(event), why=in_quarantine(why), where=where)
