"""The desk: follows one sortie, and holds what every screen, command and client of it shows.

One `now` a cycle; the state is computed once a version and serialised once a version. A version is made when
an event comes in, when the replay is controlled, and at every tick. Cycles run on the desk's own thread.
"""

from __future__ import annotations

import logging
import threading
import time
import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import orjson

from dashboard.core.base.findings import Unread
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.base.times import instant_text, minutes_between
from dashboard.core.events.kinds import DECISIONS
from dashboard.core.events.names import KnownNames
from dashboard.core.plan.model import Plan
from dashboard.core.state.model import SortieState
from dashboard.service.compute import View, compute_view
from dashboard.service.intake import answer, completed, figures_of, is_decision, lacks_only_time
from dashboard.service.roles import ANSWERS, Role, may, needed_roles, refusal, refused
from dashboard.service.session.clocks import Clock, Mode, ReplayClock
from dashboard.service.session.control import ReplayControl, control_replay
from dashboard.service.session.feeds import Feed
from dashboard.service.session.rehearsal import out_of_reach
from dashboard.words import pet_named
from replay.recording import RecordedRun

LEAST_GAP_S = 0.1
LONGEST_TICK_S = 60.0
LATE_COMPUTING_S = 5.0

log = logging.getLogger("tetherline")

Compute = Callable[[Plan, Sequence[Any], Sequence[Unread], datetime, Mode], View]


@dataclass(frozen=True)
class Snapshot:
    """One version: the state, and what goes into the message."""

    version: int
    covers: int
    state: SortieState | None
    head: dict[str, Any]
    board: bytes
    made_s: float

    @property
    def trouble(self) -> str | None:
        """Why this version does not show the state of now; None: it does."""
        trouble: str | None = self.head["trouble"]
        return trouble


class Desk:
    """Follows one sortie.

    Parameters
    ----------
    plan : Plan
        As briefed.
    feed : Feed
        Where events come from and go to.
    clock : Clock
        What time it is.
    run : RecordedRun or None
        The run that is replayed; None: live.
    may_log : bool
        Whether people may enter events.
    compute : callable
        Makes a `View` from plan, events, unread lines, now and mode.
    on_close : callable
        Called once the desk has stopped ticking.
    """

    def __init__(
        self,
        plan: Plan,
        feed: Feed,
        clock: Clock,
        *,
        run: RecordedRun | None = None,
        may_log: bool = True,
        compute: Compute = compute_view,
        on_close: Callable[[], None] = lambda: None,
    ) -> None:
        self.plan = plan
        self.boot = uuid.uuid4().hex
        self.may_log = may_log
        self.feed = feed
        self._clock = clock
        self.run = run
        self._entries = 0
        self._compute = compute
        self._on_close = on_close
        self._cycling = threading.RLock()
        self._asked = 0
        self._asking = threading.Lock()
        self._wake = threading.Event()
        self._stopped = threading.Event()
        self.listeners: set[Callable[[], None]] = set()
        self._stretch = 1
        self._began_s: float | None = None
        self._snapshot: Snapshot | None = None
        self._thread: threading.Thread | None = None

    # -- life

    def open(self) -> None:
        """Start following: make the first version and tick from then on. Again is harmless."""
        if self._thread is None:
            self.current()
            self._thread = threading.Thread(target=self._follow, name="desk", daemon=True)
            self._thread.start()

    def close(self) -> None:
        """Stop ticking and let go of the store."""
        self._stopped.set()
        self._wake.set()
        if self._thread is not None:
            self._thread.join(5)
        self._on_close()
        self.feed.close()

    def subscribe(self, listener: Callable[[], None]) -> Callable[[], None]:
        """Have `listener` called after every new version, on the desk's thread; returns what ends it."""
        self.listeners.add(listener)
        return lambda: self.listeners.discard(listener)

    # -- what it shows

    @property
    def replaying(self) -> bool:
        """Whether it shows a recorded run."""
        return isinstance(self._clock, ReplayClock)

    def current(self) -> Snapshot:
        """The newest version; makes one first when something came in since."""
        if not self._behind():
            return self._newest()
        with self._cycling:
            return self.cycle() if self._behind() else self._newest()

    def state(self) -> SortieState | None:
        """The newest state; None when none could be computed yet."""
        return self.current().state

    def message(self, role: Role = "lead") -> str:
        """The newest version as a client of this role gets it, with the instant of sending."""
        snapshot = self._newest()
        role = role if self.may_log else "watch"
        mine = {"log": may(role, "log"), "decide": may(role, "lead")}
        head = {**snapshot.head, "sent": instant_text(datetime.now(UTC)), "role": role, "roles": mine}
        began_s = self._began_s
        if began_s is not None and (took_s := time.monotonic() - began_s) > LATE_COMPUTING_S:
            head["trouble"] = (
                f"The state is late: computing it has taken {took_s:.0f} s so far. {_last_good(snapshot)}"
            )
        return (orjson.dumps(head)[:-1] + b',"board":' + snapshot.board + b"}").decode()

    def _behind(self) -> bool:
        return self._snapshot is None or self._snapshot.covers < self._asked

    def _newest(self) -> Snapshot:
        return self._snapshot if self._snapshot is not None else self.current()

    @property
    def version(self) -> int:
        """The newest version."""
        return self._snapshot.version if self._snapshot is not None else 0

    def rows_after(self, cursor: int) -> list[dict[str, Any]]:
        """The events with a `cursor` above this one, as plain mappings."""
        return self.feed.rows_after(cursor, self._clock.now())

    # -- what it takes

    def record(self, items: Sequence[Any], role: Role = "lead") -> list[dict[str, Any]]:
        """Take events as they came, with one outcome each: `status`, `id`, `seq`, `why`, maybe a `hint`.

        A missing `id` gets a new one; a missing `at` the desk's now, or that of the event which has this id
        already, so that sending once more after a lost answer is no conflict. A decision gets the figures that the
        board showed when it came in. What the role may not enter is refused, and nothing of it is kept.
        """
        barred = {**self._out_of_reach(items), **self._refused(items, role)}
        items = [item for place, item in enumerate(items) if place not in barred]
        taken = iter(self._take(items) if items else [])
        return [barred[place] if place in barred else next(taken) for place in range(len(items) + len(barred))]

    def _refused(self, items: Sequence[Any], role: Role) -> dict[int, dict[str, Any]]:
        """Place -> outcome, for the items that this role may not enter."""
        if role == "lead":
            return {}
        known = self.feed.read(self._clock.now()).events
        kinds = {event.id: event.kind for event in known}
        answers = {event.id: event.event for event in known if event.kind in ANSWERS}
        needed = needed_roles(items, kinds, answers)
        return {
            place: refusal(item, role, wanted)
            for place, (item, wanted) in enumerate(zip(items, needed, strict=True))
            if not may(role, wanted)
        }

    def _out_of_reach(self, items: Sequence[Any]) -> dict[int, dict[str, Any]]:
        """Place -> outcome, for the items that a rehearsal may not take: they would change the time before it."""
        rehearsed_from = self.feed.rehearsed_from
        if rehearsed_from is None or self.run is None:
            return {}
        now, run = self._clock.now(), self.run
        why = {place: out_of_reach(item, now, rehearsed_from, run) for place, item in enumerate(items)}
        return {place: refused(items[place], reason) for place, reason in why.items() if reason is not None}

    def _take(self, items: Sequence[Any]) -> list[dict[str, Any]]:
        figures = self._figures() if any(map(is_decision, items)) else None
        now = self._clock.now()
        times = self._times_of({item["id"] for item in items if lacks_only_time(item)}, now)
        outcomes = self.feed.append([completed(item, now, times, figures) for item in items], now)
        self._entries += 1
        known = self.feed.read(now).events
        by_id = {event.id: event for event in known}
        names, zero = KnownNames.of(self.plan, known), self._pet_zero(known)
        answers = [
            answer(outcome, by_id.get(outcome.id or ""), names, now, self.plan, zero, by_id)
            for outcome in outcomes
        ]
        self.ask()
        return answers

    def _figures(self) -> dict[str, Any] | None:
        snapshot = self.current()
        return None if snapshot.state is None else figures_of(snapshot.state, snapshot.version)

    def _pet_zero(self, known: Sequence[Any]) -> datetime:
        """The last clock event of the log, else the planned start; near enough to judge whether a time is far off."""
        return max((e.at for e in known if e.kind == "clock"), default=self.plan.sortie.start)

    def _times_of(self, ids: set[str], now: datetime) -> dict[str, datetime]:
        return {event.id: event.at for event in self.feed.read(now).events if event.id in ids} if ids else {}

    def control(self, wanted: ReplayControl) -> None:
        """Control the replay; InputError when it cannot be done, or when the sortie is live."""
        if not isinstance(self._clock, ReplayClock) or self.run is None:
            cure = "Only the clock of a replay can be controlled."
            raise InputError([Problem("replay control", "a replay", "a live sortie", cure)])
        decisions = [e.received for e in self.whole_run() if e.kind in DECISIONS] if wanted.to == "decision" else []
        control_replay(self._clock, wanted, self.run.pet_zero, sorted(decisions))
        self.ask()

    def whole_run(self) -> list[Any]:
        """The events of the run from its beginning to its end, and what was entered while it was replayed; live: none."""
        return [] if self.run_ends is None else self.feed.read(self.run_ends).events

    @property
    def run_ends(self) -> datetime | None:
        """Where the run ends, or the branch that is made of it; live: None."""
        return self._clock.last if isinstance(self._clock, ReplayClock) else None

    def ask(self) -> None:
        """Have a new version made soon; several requests before it starts are answered by one."""
        with self._asking:
            self._asked += 1
        self._wake.set()

    # -- the cycle

    def cycle(self) -> Snapshot:
        """Make the next version: one `now`, one state, one serialisation.

        A failure becomes part of the message.
        """
        with self._cycling:
            covers, before = self._asked, self._snapshot
            self._began_s = began_s = time.monotonic()
            now, mode = self._clock.now(), self._clock.mode()
            state, board, trouble = self._try(now, mode, before)
            head = self._head(state, now, mode, trouble, before)
            self._stretched(time.monotonic() - began_s)
            made = Snapshot(head["version"], covers, state, head, board, time.monotonic())
            self._snapshot, self._began_s = made, None
        for listener in list(self.listeners):
            listener()
        return made

    def _try(
        self, now: datetime, mode: Mode, before: Snapshot | None
    ) -> tuple[SortieState | None, bytes, str | None]:
        try:
            known = self.feed.read(now)
            view = self._compute(self.plan, known.events, known.unread, now, mode)
            return view.state, orjson.dumps(view.board, option=orjson.OPT_NON_STR_KEYS), None
        except Exception as wrong:  # a dead screen would be worse than an old one that says so
            trouble = (
                f"The state could not be computed ({type(wrong).__name__}: {wrong}). {_last_good(before)}"
            )
            if before is None or before.trouble != trouble:
                log.exception("The state could not be computed")
            return (before.state, before.board, trouble) if before is not None else (None, b"null", trouble)

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
            "run": self._run_words(),
            "replay": self._replay(now),
            "late_ticks": self._stretch - 1,
            "trouble": trouble,
        }

    def _run_words(self) -> dict[str, str] | None:
        run = self.run
        if run is None:
            return None
        return {"title": run.title, "date": run.date, "setting": run.setting, "rehearsal": self.feed.rehearsal}

    def _replay(self, now: datetime) -> dict[str, Any] | None:
        clock = self._clock
        if not isinstance(clock, ReplayClock) or self.run is None:
            return None
        zero, rehearsed_from = self.run.pet_zero, self.feed.rehearsed_from
        return {
            "from": instant_text(clock.first),
            "to": instant_text(clock.last),
            "at": instant_text(now),
            "from_pet_min": minutes_between(zero, clock.first),
            "to_pet_min": minutes_between(zero, clock.last),
            "at_pet_min": minutes_between(zero, now),
            "counts_from": self.run.counts_from,
            "rehearsed_from_pet_min": None if rehearsed_from is None else minutes_between(zero, rehearsed_from),
            "entries": self._entries,
        }

    def _stretched(self, took_s: float) -> None:
        """Overload: a cycle longer than half its period doubles the period; a short one brings it back."""
        period_s = self._clock.tick_s() * self._stretch
        if took_s > period_s / 2 and period_s < LONGEST_TICK_S:
            self._stretch *= 2
        elif took_s < period_s / 8 and self._stretch > 1:
            self._stretch //= 2

    def _follow(self) -> None:
        while not self._stopped.is_set():
            woken = self._wake.wait(self._clock.tick_s() * self._stretch)
            if self._stopped.is_set():
                return
            if woken:
                self._rest()
                self._wake.clear()
                self.current()
            else:
                self.cycle()

    def _rest(self) -> None:
        """Keep a least distance between two versions; what comes in meanwhile is answered by the same one."""
        since_s = time.monotonic() - self._snapshot.made_s if self._snapshot is not None else LEAST_GAP_S
        if since_s < LEAST_GAP_S and not self._stopped.is_set():
            time.sleep(LEAST_GAP_S - since_s)


def _last_good(snapshot: Snapshot | None) -> str:
    if snapshot is None or snapshot.state is None:
        return "There is no earlier good state."
    return f"Shown is the last good state, of {pet_named(snapshot.state.pet_min)}."
