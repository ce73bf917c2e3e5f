"""Takes events in: checks who may enter them, tries them, hands them to the session, and answers the sender.

Entries that arrive while others are tried wait, and are then tried together (`Intake.take`). A busy room therefore waits for
one trial, not for one trial per sender. After a trial the next one waits as long as that one took: under load trials leave half
of a processor free, and more entries share each of them. In a quiet room an entry is tried at once.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, NamedTuple

from dashboard.core.base.problems import InputError
from dashboard.core.base.times import instant_text, minutes_between
from dashboard.core.events.answers import Answer
from dashboard.core.events.clock import ClockSet
from dashboard.core.events.decision import THEN
from dashboard.core.events.event import Event
from dashboard.core.events.kinds import UnreadableEvent
from dashboard.core.events.names import KnownNames
from dashboard.core.plan.model import Plan
from dashboard.core.record.counted import events_that_count
from dashboard.core.state.follow import follow
from dashboard.core.state.model import SortieState
from dashboard.log.eventtext import event_of_text, text_of_table
from dashboard.log.store import Outcome, Quarantined
from dashboard.log.store.rows import nothing_recorded
from dashboard.service.access.roles import Grants, Visitor, may, refusal, refused
from dashboard.service.completing import (
    completed,
    figures_of,
    gives_pet,
    lacks_figures,
    lacks_only_time,
    signed,
    with_instants,
)
from dashboard.service.log_index import LogIndex
from dashboard.service.outcomes import answer, effect_of
from dashboard.service.session.session import KnownEvents, Session
from dashboard.service.trial.effect import EntryFigures, figures_of_state
from dashboard.service.trial.sieve import Figured, Sieve, Verdict, in_quarantine

LATE_DECISION_MIN = 2.0
LONGEST_REST_S = 0.5
NOT_TRIED = "it could not be tried in time, since other events sent with it broke the state or took too long. Send it alone."

UNTRIED = (
    "It was not tried before it was recorded, since this computer could not start the process for it. What it moved is not known "
    "here: look at the board."
)

log = logging.getLogger("tetherline")

EntryAnswer = dict[str, Any]


class Shown(NamedTuple):
    """What the board shows.

    Parameters
    ----------
    state : SortieState or None
        The newest state; None: there is none.
    version : int
        Its version.
    events : int
        How many events it was computed from.
    """

    state: SortieState | None
    version: int
    events: int


@dataclass
class _Request:
    """Items of one sender, and their answers."""

    items: list[Any]
    visitor: Visitor
    shown: Shown
    answers: list[EntryAnswer] | None = None
    failed: Exception | None = None


@dataclass
class _Entry:
    """One item while it is entered: as it came, completed, as an event (None: not readable), and its answer."""

    item: Any
    visitor: Visitor
    whole: Any = None
    event: Event | None = None
    answer: EntryAnswer | None = None
    outcome: Outcome | None = field(default=None)

    @property
    def is_new_and_counts(self) -> bool:
        """Whether it was recorded now, or is kept in memory since the store was lost, and names only what there is."""
        if self.event is None or self.outcome is None or self.answer is None:
            return False
        return self.outcome.status in ("recorded", "in memory only") and self.answer["status"] == self.outcome.status


class Intake:
    """Takes events for a session.

    Parameters
    ----------
    session
        Keeps the events.
    sieve
        Tries events before they are acknowledged; None: they are not tried.
    newest
        Gives at once what the board shows, to compare with what an entry makes of it.
    """

    def __init__(self, session: Session, sieve: Sieve | None, newest: Callable[[], Shown]) -> None:
        self._session, self._sieve, self._newest = session, sieve, newest
        self._index, self._sifted_index = LogIndex(), LogIndex()  # of all events, and of those that take part
        self._waiting: list[_Request] = []
        self._queueing = threading.Lock()
        self._entering = threading.Lock()
        self._rested_s = 0.0  # on the counter of real seconds: from when on the next entries may be tried

    def take(self, items: Sequence[Any], visitor: Visitor, shown: Callable[[], Shown]) -> list[EntryAnswer]:
        """Take events as they came, and answer each.

        A missing `id` gets a new one. A missing `at` becomes the session's now, or the time of the event that already has this
        id, so that sending once more after a lost answer is not a conflict. A PET in `at` becomes its instant. The name of the
        sender, if it is known, becomes `by` or `entered_by` (`signed`). What the role or the session does not allow is refused,
        and nothing of it is kept. A `Quarantined` item is kept as it is.

        Parameters
        ----------
        items
            Events as they came.
        visitor
            The sender.
        shown
            Gives what the board shows, for the PET of events and the figures of decisions.

        Returns
        -------
        list of dict
            One answer for each item: `status`, `id`, `seq`, `why`, maybe a `hint`, and what the entry `did`.

        Raises
        ------
        InputError
            When the events cannot be kept; it says whether any of them was.
        """
        needed = any(lacks_figures(item) or gives_pet(item) for item in items)
        request = _Request(list(items), visitor, shown() if needed else Shown(None, 0, 0))
        with self._queueing:
            self._waiting.append(request)
        with self._entering:
            if request.answers is None and request.failed is None:
                time.sleep(max(0.0, self._rested_s - time.monotonic()))
                with self._queueing:
                    together, self._waiting = self._waiting, []
                began_s = time.monotonic()
                self._enter(together)
                ended_s = time.monotonic()
                self._rested_s = ended_s + min(ended_s - began_s, LONGEST_REST_S)
        if request.failed is not None:
            raise request.failed
        assert request.answers is not None
        return request.answers

    def _enter(self, requests: Sequence[_Request]) -> None:
        """Enter the items of these requests together. Each request gets its answers, or the failure."""
        now = self._session.clock.now()
        try:
            with nothing_recorded():
                taken = self._session.taken()
                parts = [[self._read(item, request, taken, now) for item in request.items] for request in requests]
                entries = [entry for part in parts for entry in part]
                verdict = self._judged_and_tried(entries, taken, now)
            self._keep(entries, taken, verdict, now)
            self._answer(parts, taken, verdict, now)
        except Exception as wrong:  # raised in the thread of every sender, not only in this one
            for request in requests:
                request.failed = wrong
            return
        for request, part in zip(requests, parts, strict=True):
            request.answers = [entry.answer for entry in part if entry.answer is not None]

    # -- reading

    def _read(self, item: Any, request: _Request, taken: Mapping[str, Event], now: datetime) -> _Entry:
        """Complete an item. It is refused if the session does not take it, or its PET has no known instant."""
        entry = _Entry(item, request.visitor)
        if isinstance(item, Quarantined):
            entry.whole = item
            return entry
        state = request.shown.state
        if gives_pet(item):
            why = _why_no_pet(item, state, now)
            if why is not None or state is None:
                entry.answer = refused(item, why or "", forbidden=False)
                return entry
            item = with_instants(item, state.basis.pet_zero)
        if (why := self._session.barred(item, now)) is not None:
            entry.answer = refused(item, why)
            return entry
        times = {}
        if lacks_only_time(item) and (first := taken.get(item["id"])) is not None:
            times = {item["id"]: first.at}
        entry.whole = signed(completed(item, now, times), request.visitor.name, taken)
        if lacks_figures(entry.whole) and state is not None:
            entry.whole["figures"] = self._decided_on(entry.whole, state, request.shown.version, now)
        entry.event = self._event_of(entry.whole)
        return entry

    def _event_of(self, whole: Any) -> Event | None:
        """An item as an event; None: it cannot be read, or belongs to another sortie."""
        try:
            event = event_of_text(text_of_table(whole) if isinstance(whole, dict) else whole)
        except (UnreadableEvent, TypeError, ValueError):
            return None
        return event if event.sortie in (None, self._session.plan.sortie.id) else None

    def _decided_on(self, whole: dict[str, Any], state: SortieState, version: int, now: datetime) -> dict[str, Any]:
        """The figures that the board shows. For a decision entered late, the figures at its own time are added."""
        figures = figures_of(state, version)
        event = self._event_of(whole)
        if event is None or minutes_between(event.at, now) < LATE_DECISION_MIN:
            return figures
        known = [one for one in self._known(now).events if one.came_in <= event.at]
        try:
            return {**figures, THEN: figures_of(follow(self._session.plan, known, event.at))}
        except Exception:  # the decision is kept without them
            log.exception("The figures at the time of a decision could not be computed")
            return figures

    # -- judging and trying

    def _judged_and_tried(self, entries: Sequence[_Entry], taken: Mapping[str, Event], now: datetime) -> Verdict:
        """Refuse entries that their sender may not make, and try the rest. Then judge again, without those not recorded."""
        self._judge(entries, taken, frozenset())
        new = _first_of_each_id(entries, taken)
        if self._sieve is None or not new:
            return Verdict({}, frozenset(), None, None)
        known = self._session.known_at(now)
        self._index.read(known.events)
        last = self._index.last_seq
        events = [e.model_copy(update={"seq": last + n, "received": now}) for n, e in enumerate(new, start=1)]
        state, _, count = self._newest()
        shown = None if state is None else Figured(count, state.now, figures_of_state(state))
        verdict = self._sieve.tried(known, events, now, self._session.clock.mode(), shown)
        for entry in entries:
            if entry.answer is None and entry.event is not None and entry.event.id in verdict.untried:
                entry.answer = refused(entry.item, NOT_TRIED, forbidden=False)
        self._judge(entries, taken, verdict.broken.keys() | verdict.untried)
        return verdict

    def _judge(self, entries: Sequence[_Entry], taken: Mapping[str, Event], not_recorded: Iterable[str]) -> None:
        """Refuse entries that their sender may not make. Events with an id in `not_recorded` grant nothing."""
        if all(entry.visitor.role == "lead" for entry in entries):
            return
        grants = Grants(taken)
        left_out = set(not_recorded)
        for entry in entries:
            if entry.answer is not None:
                continue
            needed = grants.needed(entry.whole)
            if not may(entry.visitor.role, needed):
                entry.answer = refusal(entry.item, entry.visitor, needed)
            elif entry.event is not None and entry.event.id not in left_out:
                grants.recorded(entry.event)

    # -- keeping and answering

    def _keep(self, entries: Sequence[_Entry], taken: Mapping[str, Event], verdict: Verdict, now: datetime) -> None:
        """Hand the entries that are left to the session. An event that broke the cycle is kept in quarantine."""
        kept = [entry for entry in entries if entry.answer is None]
        if not kept:
            return
        if self._sieve is not None:
            ids = {entry.event.id for entry in kept if entry.event is not None}
            self._sieve.take_in(ids - verdict.broken.keys() - verdict.untried - taken.keys())
        given = [
            Quarantined(entry.whole, in_quarantine(verdict.broken[entry.event.id]))
            if entry.event is not None and entry.event.id in verdict.broken
            else entry.whole
            for entry in kept
        ]
        for entry, outcome in zip(kept, self._session.enter(given, now), strict=True):
            entry.outcome = outcome

    def _answer(
        self, parts: Sequence[Sequence[_Entry]], taken: Mapping[str, Event], verdict: Verdict, now: datetime
    ) -> None:
        """Answer each sender: the outcome of each entry, and what it did."""
        try:
            self._sifted_index.read(self._known(now).events)
        except InputError:  # the events are recorded; the database was lost right after that
            self._sifted_index.read(list(taken.values()))
        by_id, leading = self._sifted_index.by_id, self._sifted_index.leading
        plan, names = self._session.plan, KnownNames.of(self._session.plan, leading)
        untried = self._sieve is not None and self._sieve.trouble is not None
        zero = _zero_of(plan, leading, now)
        for entry in (entry for part in parts for entry in part):
            if entry.outcome is not None:
                event = by_id.get(entry.outcome.id or "")
                entry.answer = answer(entry.outcome, event, names, now, plan, zero, by_id)
                if untried and entry.is_new_and_counts:
                    entry.answer["hint"] = " ".join(filter(None, (entry.answer["hint"], UNTRIED)))
        _tell_effects(parts, verdict.before, verdict.after)

    def _known(self, now: datetime) -> KnownEvents:
        known = self._session.known_at(now)
        return known if self._sieve is None else self._sieve.sifted(known)


def _tell_effects(parts: Sequence[Sequence[_Entry]], before: EntryFigures | None, after: EntryFigures | None) -> None:
    """Add to the answer of each entry that counts what it did. The last one of a sender also says what all moved together."""
    if before is None or after is None:
        return
    counted = [[entry for entry in part if entry.is_new_and_counts] for part in parts]
    entries = sum(len(part) for part in counted)
    for part, count in zip(parts, counted, strict=True):
        ids = {entry.event.id for entry in part if entry.event is not None}
        for entry in count:
            assert entry.answer is not None and entry.event is not None
            entry.answer["did"] = effect_of(entry.event.id, before, after, ids, whole=entry is count[-1], entries=entries)


def _first_of_each_id(entries: Sequence[_Entry], taken: Mapping[str, Event]) -> list[Event]:
    """The events that would be new in the log; of several with one id the first."""
    new: dict[str, Event] = {}
    for entry in entries:
        if entry.answer is None and entry.event is not None and entry.event.id not in taken:
            new.setdefault(entry.event.id, entry.event)
    return list(new.values())


def _why_no_pet(item: dict[str, Any], state: SortieState | None, now: datetime) -> str | None:
    """Why the PET of an item cannot be read as an instant, and what to give; None: it can."""
    if item.get("kind") == "clock":
        why = "a clock event sets PET zero"
    elif state is None:
        why = "no state could be computed yet, so PET zero is not known"
    elif state.basis.pet_zero_doubt:
        why = f"PET zero is in doubt ({state.basis.pet_zero_doubt})"
    else:
        return None
    return f"{why}: expected an instant such as {instant_text(now)}; found a PET. Give the time of day as an instant."


def _zero_of(plan: Plan, leading: Sequence[Event], now: datetime) -> datetime:
    """PET zero by the latest `clock` event, as amended, that is not withdrawn; the planned one where there is none."""
    clocks = [event for event in leading if isinstance(event, ClockSet)]
    counted = events_that_count(plan, [*clocks, *(event for event in leading if isinstance(event, Answer))], now)
    in_force = [counted.amended.get(event.id, event).at for event in clocks if event.id not in counted.withdrawn_by]
    return max(in_force, default=plan.sortie.start)
