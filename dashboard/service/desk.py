"""The desk: follows one session, and holds the state that every screen, command and client shows.

Each cycle has one `now`. The state is computed once and serialised once for each version. A version is made when an event
comes in, when the replay is controlled, and at every tick. Cycles run on a thread of the desk.
"""

from __future__ import annotations

import logging
import threading
import time
import uuid
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import partial
from typing import Any

import orjson

from dashboard.core.base.findings import Unread
from dashboard.core.base.problems import InputError
from dashboard.core.base.times import instant_text, minutes_between
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.core.state.model import SortieState
from dashboard.service.access.roles import EVERYONE, Role, Visitor, may
from dashboard.service.beside.process import Beside, Here
from dashboard.service.changes import change_of
from dashboard.service.compute import View, compute_view
from dashboard.service.feeds.feeds import Feeds
from dashboard.service.intake import Intake, Shown
from dashboard.service.limited import Overran, limited
from dashboard.service.observe.metrics import Metrics
from dashboard.service.observe.viewers import Viewers
from dashboard.service.session.clock import Mode
from dashboard.service.session.control import ReplayControl
from dashboard.service.session.session import KnownEvents, Session
from dashboard.service.trial.sieve import Sieve
from dashboard.words import listed, pet_named

LEAST_GAP_S = 0.02
PATIENCE_S = 5.0
LONGEST_TICK_S = 60.0
LATE_COMPUTING_S = 5.0
LONGEST_CYCLE_S = 30.0  # then the events are tried anew, in a process that can be ended

ONLY_SHOWS = "this board only shows; events are entered where the log is kept"
FIRST = "The state is being computed for the first time."

log = logging.getLogger("tetherline")

Compute = Callable[[Plan, Sequence[Event], Sequence[Unread], datetime, Mode], View]


@dataclass(frozen=True)
class Snapshot:
    """One version of the board.

    Parameters
    ----------
    version : int
        Counted from 1; 0 before the first one.
    covers : int
        How many requests for a new version it answers; see `Desk.ask`.
    state : SortieState or None
        The state; after a failure the last good one; None: there is none yet.
    head : dict
        Fields of the message except the board.
    board : str
        `shown` as JSON.
    made_s : float
        When it was made, in seconds of a clock that never goes back.
    events : int
        How many events it was computed from; -1: the computation failed.
    shown : dict or None
        The board; None: there is none yet.
    changes : dict of int to str
        For the number of an earlier version: what changed since, as JSON.
    """

    version: int
    covers: int
    state: SortieState | None
    head: dict[str, Any]
    board: str
    made_s: float
    events: int = -1
    shown: dict[str, Any] | None = None
    changes: dict[int, str] = field(default_factory=dict)

    @property
    def trouble(self) -> str | None:
        """Why this version does not show the present state; None when it does."""
        trouble: str | None = self.head["trouble"]
        return trouble

    def changes_since(self, before: Snapshot | None) -> str:
        """Give the board, or what changed of it, as a member of the message.

        Parameters
        ----------
        before
            The version that the receiver has; None: none, so that it gets the whole board.

        Returns
        -------
        str
            `"board":...`, or `"changes":...` (null: nothing changed).
        """
        if before is None or before.shown is None or self.shown is None:
            return f'"board":{self.board}'
        if before.shown is self.shown:
            return '"changes":null'
        if (text := self.changes.get(before.version)) is None:
            text = self.changes[before.version] = _text(change_of(before.shown, self.shown))
        return f'"changes":{text}'


class Desk:
    """Follows one session.

    Parameters
    ----------
    session
        The sortie, its clock, and where its events come from and go to.
    may_log
        Whether people may enter events.
    compute
        Makes a `View` from plan, events, unread lines, now and mode.
    sieve
        Tries events before they count, and is closed with the desk; None: events are not tried.
    feeds
        Followed once the desk is open, and closed with it; None: there are none. What they bring is taken once there is a first
        version.
    feeds_role
        What feeds may enter.
    metrics
        Gets what is measured; None: the desk has metrics of its own.
    reports, answers
        The processes in which reports are made, and in which questions of people are answered; None: both are done in this one.
    on_close
        Called once the desk has stopped ticking.
    """

    def __init__(
        self,
        session: Session,
        *,
        may_log: bool = True,
        compute: Compute = compute_view,
        sieve: Sieve | None = None,
        feeds: Feeds | None = None,
        feeds_role: Role = "lead",
        metrics: Metrics | None = None,
        reports: Beside | None = None,
        answers: Beside | None = None,
        on_close: Callable[[], None] = lambda: None,
    ) -> None:
        self.session = session
        self.plan = session.plan
        self.boot = uuid.uuid4().hex
        self.may_log = may_log
        self.metrics, self.viewers = metrics or Metrics(), Viewers()
        self.reports, self.answers = reports or Here(session.plan), answers or Here(session.plan)
        self._sieve = sieve
        self._intake = Intake(session, sieve, lambda: _shown_by(self._newest()))
        self._clock = session.clock
        self._compute = compute
        self._on_close = on_close
        self._cycling = threading.RLock()
        self._asked = 0
        self._waiting_since_s: float | None = None  # the first request that no version answers or will answer
        self._answering_since_s: float | None = None  # the first request that the version being made answers
        self._asking = threading.Lock()
        self._wake = threading.Event()
        self._stopped = threading.Event()
        self.listeners: set[Callable[[], None]] = set()
        self.feeds = feeds or Feeds()
        self._feeds_role: Role = feeds_role
        self._stretch = 1
        self._began_s: float | None = None
        self._snapshot: Snapshot | None = None
        self._thread: threading.Thread | None = None

    # -- life

    def open(self) -> None:
        """Start following. Versions are made from now on, the first one soon. A second call does nothing."""
        if self._thread is None:
            self.session.watch(self.ask)
            self.feeds.start(self._of_feed, self.session.received_last())
            self._thread = threading.Thread(target=self._follow, name="desk", daemon=True)
            self._thread.start()

    def close(self) -> None:
        """Stop following feeds, stop ticking, and release the store."""
        self.feeds.close()
        self._stopped.set()
        self._wake.set()
        if self._thread is not None:
            self._thread.join(5)
        if self._sieve is not None:
            self._sieve.close()
        self._on_close()
        self.session.close()

    def subscribe(self, listener: Callable[[], None]) -> Callable[[], None]:
        """Have a function called after every new version.

        Parameters
        ----------
        listener
            Called without arguments, on the thread that made the version.

        Returns
        -------
        callable
            Call it to end the subscription.
        """
        self.listeners.add(listener)
        return lambda: self.listeners.discard(listener)

    # -- what it shows

    def current(self) -> Snapshot:
        """The newest version. If it lacks events, a new one is made; a cycle in progress is waited for, at most `PATIENCE_S`."""
        if not self._behind():
            return self._newest()
        if not self._cycling.acquire(timeout=PATIENCE_S):
            return self._newest()
        try:
            return self.cycle() if self._behind() else self._newest()
        finally:
            self._cycling.release()

    def state(self) -> SortieState | None:
        """The newest state; None when none could be computed yet."""
        return self.current().state

    @property
    def trial_trouble(self) -> str | None:
        """Why events are not tried before they count, a clause; None: they are tried, or this desk tries none."""
        return None if self._sieve is None else self._sieve.trouble

    def known_at(self, now: datetime) -> KnownEvents:
        """Find what the room has at an instant, as the figures use it.

        Parameters
        ----------
        now
            The instant; aware.

        Returns
        -------
        KnownEvents
            Entries in quarantine are among the unread, not among the events.
        """
        known = self.session.known_at(now)
        return known if self._sieve is None else self._sieve.sifted(known)

    def whole_run(self) -> list[Event]:
        """Give all events of a replayed run, as `known_at` has them; none when the sortie is live."""
        run_ends = self.session.run_ends
        return [] if run_ends is None else self.known_at(run_ends).events

    def message(self, visitor: Visitor = EVERYONE, key_trouble: str | None = None) -> str:
        """Write the newest version as a visitor gets it, with the instant of sending. This waits for nothing.

        Parameters
        ----------
        visitor
            Who gets it; the role decides what the board lets them do.
        key_trouble
            What is wrong with the key file of the server; None: nothing.

        Returns
        -------
        str
            One JSON object.
        """
        return self.message_since(None, visitor, key_trouble)[0]

    def message_since(
        self, before: Snapshot | None, visitor: Visitor = EVERYONE, key_trouble: str | None = None
    ) -> tuple[str, Snapshot]:
        """Make the message that tells a visitor of the newest version. Waits for nothing.

        Parameters
        ----------
        before
            The version that the receiver has; it is told only what changed since. None: it is told all.
        visitor
            Who receives it.
        key_trouble
            What is wrong with the key file of the server; None: nothing.

        Returns
        -------
        tuple of (str, Snapshot)
            The message, and the version that it is of.
        """
        snapshot = self._newest()
        shown = visitor.as_dict()
        if not self.may_log:
            visitor, shown = Visitor("watch"), {**shown, "said": "", "why": ONLY_SHOWS}
        mine = {"log": may(visitor.role, "log"), "decide": may(visitor.role, "lead")}
        head = {
            **snapshot.head,
            "sent": instant_text(datetime.now(UTC)),
            "role": visitor.role,
            "roles": mine,
            "visitor": shown,
            "key_trouble": key_trouble,
            "feeds": [] if snapshot.head["ended"] else self.feeds.to_look_after(),
        }
        began_s = self._began_s
        if began_s is not None and (took_s := time.monotonic() - began_s) > LATE_COMPUTING_S:
            head["trouble"] = (
                f"The state is late: computing it has taken {took_s:.0f} s so far. {_last_good(snapshot)}"
            )
        return f"{_text(head)[:-1]},{snapshot.changes_since(before)}}}", snapshot

    def _behind(self) -> bool:
        return self._snapshot is None or self._snapshot.covers < self._asked

    def _newest(self) -> Snapshot:
        """The newest version; before the first one, a version that says that the first is being made."""
        if self._snapshot is not None:
            return self._snapshot
        head = self._head(None, self._clock.now(), self._clock.mode(), FIRST, None)
        return Snapshot(0, -1, None, {**head, "version": 0}, "null", time.monotonic())

    @property
    def lag_s(self) -> float:
        """For how long the earliest request has waited that the newest version does not answer; 0: it answers all."""
        with self._asking:
            since_s = self._waiting_since_s if self._answering_since_s is None else self._answering_since_s
        return 0.0 if since_s is None or self._snapshot is None else time.monotonic() - since_s

    def newest(self) -> Snapshot | None:
        """The newest version as it is; None: there is none yet. Waits for nothing and makes none."""
        return self._snapshot

    @property
    def period_s(self) -> float:
        """Seconds between two versions when nothing comes in."""
        return self._clock.tick_s() * self._stretch

    @property
    def version(self) -> int:
        """The newest version."""
        return self._snapshot.version if self._snapshot is not None else 0

    def rows_after(self, cursor: int) -> list[dict[str, Any]]:
        """Give the rows after a place.

        Parameters
        ----------
        cursor
            Their `cursor` is higher than this one.

        Returns
        -------
        list of dict
            Events and what was not understood, as plain values.
        """
        return self.session.rows_after(cursor, self._clock.now())

    # -- what it takes

    def record(self, items: Sequence[Any], visitor: Visitor = EVERYONE) -> list[dict[str, Any]]:
        """Take events as they came, with one outcome each (`Intake.take`). A decision gets the figures that the board showed.

        Parameters
        ----------
        items
            Events as they came.
        visitor
            The sender.

        Returns
        -------
        list of dict
            The answers of `Intake.take`, in the order of the items.

        Raises
        ------
        InputError
            When the events cannot be kept; it says whether any of them was.
        """
        began_s = time.monotonic()
        outcomes = self._intake.take(items, visitor, self._shown)
        took_s = time.monotonic() - began_s
        self.metrics.entered(outcomes, took_s)
        counts = dict(Counter(outcome["status"] for outcome in outcomes))
        fields = {"sender": visitor.called, "outcomes": counts, "took_s": round(took_s, 3)}
        said = listed([f"{count} {status}" for status, count in counts.items()])
        log.info("Entries came in: %s.", said, extra={"fields": fields})
        if any(outcome["status"] != "refused" for outcome in outcomes):
            self.ask()
        return outcomes

    def _of_feed(self, items: Sequence[Any], name: str) -> list[dict[str, Any]] | None:
        """Take entries of a feed. None: not yet, since there is no state to judge them by."""
        return None if self._snapshot is None else self.record(items, Visitor(self._feeds_role, name))

    def _shown(self) -> Shown:
        return _shown_by(self.current())

    def control(self, wanted: ReplayControl) -> None:
        """Control the replay.

        Parameters
        ----------
        wanted
            Play, pause, seek, speed or step.

        Raises
        ------
        InputError
            When it cannot be done, or when the sortie is live.
        """
        self.session.control(wanted)
        self.ask()

    def ask(self) -> None:
        """Have a new version made soon. Several requests before it starts are answered by one version."""
        with self._asking:
            if self._waiting_since_s is None:
                self._waiting_since_s = time.monotonic()
            self._asked += 1
        self._wake.set()

    # -- the cycle

    def cycle(self) -> Snapshot:
        """Make the next version: one `now`, one state, one serialisation. A failure becomes part of the message."""
        with self._cycling:
            before = self._snapshot
            with self._asking:
                covers = self._asked
                self._answering_since_s, self._waiting_since_s = self._waiting_since_s, None
            self._began_s = began_s = time.monotonic()
            now, mode = self._clock.now(), self._clock.mode()
            state, board, shown, trouble, events = self._try(now, mode, before)
            head = self._head(state, now, mode, trouble, before)
            took_s = time.monotonic() - began_s
            self._stretched(took_s)
            self.metrics.cycle_took(took_s)
            made = Snapshot(head["version"], covers, state, head, board, time.monotonic(), events, shown)
            made.changes_since(before)  # as most of those who watch will want it
            self._snapshot, self._began_s, self._answering_since_s = made, None, None
        for listener in list(self.listeners):
            listener()
        return made

    def _try(
        self, now: datetime, mode: Mode, before: Snapshot | None
    ) -> tuple[SortieState | None, str, dict[str, Any] | None, str | None, int]:
        try:
            view, events = self._view(now, mode)
            return view.state, _text(view.board), view.board, None, events
        except InputError as wrong:
            trouble = f"There is no state of now. {wrong} {_last_good(before)}"
            if before is None or before.trouble != trouble:
                log.error(trouble)
        except Exception as wrong:  # an old board that says that it is old is better than none
            overran = f"it takes more than {LONGEST_CYCLE_S:g} s"
            why = overran if isinstance(wrong, Overran) else f"{type(wrong).__name__}: {wrong}"
            trouble = f"The state could not be computed ({why}). {_last_good(before)}"
            if before is None or before.trouble != trouble:
                log.exception("The state could not be computed")
        return (None, "null", None, trouble, -1) if before is None else (before.state, before.board, before.shown, trouble, -1)

    def _view(self, now: datetime, mode: Mode) -> tuple[View, int]:
        """The view of the events that take part, and their number. If it fails, the faulty events go into quarantine first."""
        known, sieve = self.session.known_at(now), self._sieve
        if sieve is None:
            return self._viewed(known, now, mode)
        if self._snapshot is None and (run_ends := self.session.run_ends) is not None:
            sieve.admitted(self.session.known_at(run_ends), run_ends, mode)
        try:
            return self._viewed(sieve.admitted(known, now, mode), now, mode)
        except Exception as wrong:
            if not sieve.recheck(known, now, mode) and not isinstance(wrong, Overran):
                raise
            return self._viewed(sieve.sifted(known), now, mode)

    def _viewed(self, known: KnownEvents, now: datetime, mode: Mode) -> tuple[View, int]:
        compute = partial(self._compute, self.plan, known.events, known.unread, now, mode)
        return limited(compute, LONGEST_CYCLE_S), len(known.events)

    def _head(
        self,
        state: SortieState | None,
        now: datetime,
        mode: Mode,
        trouble: str | None,
        before: Snapshot | None,
    ) -> dict[str, Any]:
        ended = state.ended if state is not None else False
        zero = state.basis.pet_zero if state is not None else self.plan.sortie.start
        running = mode == "replay" or (mode == "live" and not ended)
        shown = now if trouble is None or state is None else state.now
        return {
            "boot": self.boot,
            "version": before.version + 1 if before is not None else 1,
            "mode": mode,
            "ended": ended,
            "speed": self._clock.speed(),
            "clock_running": running,
            "now": instant_text(shown),
            "pet_min": minutes_between(zero, shown),
            "pet_zero": instant_text(zero),
            "run": self.session.run_words(),
            "replay": self.session.replay_bar(now),
            "late_ticks": self._stretch - 1,
            "trouble": trouble,
            "store_trouble": self.session.store_trouble,
        }

    def _stretched(self, took_s: float) -> None:
        """Adapt the period to overload: a cycle longer than half the period doubles it; a short one halves it again."""
        period_s = self.period_s
        if took_s > period_s / 2 and period_s < LONGEST_TICK_S:
            self._stretch *= 2
        elif took_s < period_s / 8 and self._stretch > 1:
            self._stretch //= 2

    def _warm_up(self, sieve: Sieve) -> None:
        """Have the process of the trials started before the first entry comes in."""
        now = self._clock.now()
        try:
            sieve.warm_up(self.session.known_at(now), now, self._clock.mode())
        except InputError:  # the store cannot be read, which the cycle says
            return

    def _follow(self) -> None:
        self.current()
        if self._sieve is not None:
            threading.Thread(target=self._warm_up, args=(self._sieve,), name="trial start", daemon=True).start()
        while not self._stopped.is_set():
            woken = self._wake.wait(self.period_s)
            if self._stopped.is_set():
                return
            if woken:
                self._rest()
                self._wake.clear()
                self.current()
            else:
                self.cycle()

    def _rest(self) -> None:
        """Wait until `LEAST_GAP_S` have passed since the last version. Requests that come meanwhile share the next one."""
        since_s = time.monotonic() - self._snapshot.made_s if self._snapshot is not None else LEAST_GAP_S
        if since_s < LEAST_GAP_S and not self._stopped.is_set():
            time.sleep(LEAST_GAP_S - since_s)


def _text(values: Any) -> str:
    return orjson.dumps(values, option=orjson.OPT_NON_STR_KEYS).decode()


def _shown_by(snapshot: Snapshot) -> Shown:
    return Shown(snapshot.state, snapshot.version, snapshot.events)


def _last_good(snapshot: Snapshot | None) -> str:
    if snapshot is None or snapshot.state is None:
        return "There is no earlier good state."
    return f"The board shows the last good state, of {pet_named(snapshot.state.pet_min)}."
