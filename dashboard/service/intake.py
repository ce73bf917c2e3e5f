"""Taking events in: who may enter them, trying them, handing them to the session, and the answer to the sender.

Entries that wait while others are tried are tried together with one another (`Intake.take`): a busy room waits for one
trial, not for one per sender. After a trial the next one waits as long as that one took, so that under load trials leave half
of a processor free and more entries share each of them; in a quiet room an entry is tried at once.
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
from dashboard.core.base.times import minutes_between
from dashboard.core.events.answers import Answer
from dashboard.core.events.clock import ClockSet
from dashboard.core.events.event import Event
from dashboard.core.events.kinds import UnreadableEvent
from dashboard.core.events.names import KnownNames
from dashboard.core.state.follow import follow
from dashboard.core.state.model import SortieState
from dashboard.log.eventtext import event_of_text, text_of_table
from dashboard.log.store import Outcome, Quarantined
from dashboard.log.store.rows import nothing_recorded
from dashboard.service.access.roles import Grants, Visitor, may, refusal, refused
from dashboard.service.completing import (
    THEN,
    completed,
    figures_of,
    gives_pet,
    lacks_figures,
    lacks_only_time,
    signed,
    with_instants,
)
from dashboard.service.outcomes import TAKEN, answer, effect_of
from dashboard.service.session.session import Known, Session
from dashboard.service.trial.effect import Figures, figures_of_state
from dashboard.service.trial.sieve import Figured, Sieve, Verdict, in_quarantine

LATE_DECISION_MIN = 2.0
LONGEST_REST_S = 0.5
NOT_TRIED = "it could not be tried in time, since others with it broke the state or took too long. Send it again, alone."

log = logging.getLogger("tetherline")

Told = dict[str, Any]


class Shown(NamedTuple):
    """What the board shows: the newest state (None: none of now), its version, and of how many events it was made."""

    state: SortieState | None
    version: int
    events: int


@dataclass
class _Request:
    """Events of one sender, and what became of them."""

    items: list[Any]
    visitor: Visitor
    shown: Shown
    answers: list[Told] | None = None
    failed: Exception | None = None


@dataclass
class _Entry:
    """One item on its way in: as it came, as completed, the event it is (None: not readable), and its answer."""

    item: Any
    visitor: Visitor
    whole: Any = None
    event: Event | None = None
    answer: Told | None = None
    outcome: Outcome | None = field(default=None)


class Intake:
    """Takes events for a session.

    Parameters
    ----------
    session : Session
    sieve : Sieve or None
        Tries events before they are acknowledged; None: they are not tried.
    newest : callable
        Gives at once what the board shows, to compare with what an entry makes of it.
    """

    def __init__(self, session: Session, sieve: Sieve | None, newest: Callable[[], Shown]) -> None:
        self._session, self._sieve, self._newest = session, sieve, newest
        self._waiting: list[_Request] = []
        self._queueing = threading.Lock()
        self._entering = threading.Lock()
        self._rested_s = 0.0  # on the counter of real seconds: from when on the next entries may be tried

    def take(self, items: Sequence[Any], visitor: Visitor, shown: Callable[[], Shown]) -> list[Told]:
        """Take events as they came, with one answer each: `status`, `id`, `seq`, `why`, maybe a `hint`, and what it `did`.

        A missing `id` gets a new one; a missing `at` the session's now, or that of the event which has this id
        already, so that sending once more after a lost answer is no conflict. A PET in `at` becomes its instant. The name
        of the sender, where it is known, becomes `by` or `entered_by` (`signed`). What the role or the session does not
        allow is refused, and nothing of it is kept. A `Quarantined` item is kept as it is.

        Parameters
        ----------
        items : sequence
            Events as they came.
        visitor : Visitor
            The sender.
        shown : callable
            Gives what the board shows: for the PET of events, and the figures of decisions.

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
        """Enter what these requests hold, together; each gets its answers, or the failure."""
        now = self._session.clock.now()
        try:
            with nothing_recorded():
                taken = self._session.taken()
                parts = [[self._read(item, request, taken, now) for item in request.items] for request in requests]
                entries = [entry for part in parts for entry in part]
                verdict = self._judged_and_tried(entries, taken, now)
            self._keep(entries, taken, verdict, now)
            self._answer(parts, taken, verdict, now)
        except Exception as wrong:  # every sender learns of it, not only the one whose thread this is
            for request in requests:
                request.failed = wrong
            return
        for request, part in zip(requests, parts, strict=True):
            request.answers = [entry.answer for entry in part if entry.answer is not None]

    # -- reading

    def _read(self, item: Any, request: _Request, taken: Mapping[str, Event], now: datetime) -> _Entry:
        """An item, completed; refused where the session does not take it, or where its PET cannot be told."""
        entry = _Entry(item, request.visitor)
        if isinstance(item, Quarantined):
            entry.whole = item
            return entry
        state = request.shown.state
        if gives_pet(item):
            why = _why_no_pet(item, state)
            if why is not None or state is None:
                entry.answer = refused(item, why or "")
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
        """The event that an item is; None: it cannot be read, or is of another sortie."""
        try:
            event = event_of_text(text_of_table(whole) if isinstance(whole, dict) else whole)
        except (UnreadableEvent, TypeError, ValueError):
            return None
        return event if event.sortie in (None, self._session.plan.sortie.id) else None

    def _decided_on(self, whole: dict[str, Any], state: SortieState, version: int, now: datetime) -> dict[str, Any]:
        """The figures that the board shows; beside them, for a decision entered late, those of its own time."""
        figures = figures_of(state, version)
        event = self._event_of(whole)
        if event is None or minutes_between(event.at, now) < LATE_DECISION_MIN:
            return figures
        known = [one for one in self._known(now).events if one.came_in <= event.at]
        try:
            return {**figures, THEN: figures_of(follow(self._session.plan, known, event.at))}
        except Exception:  # the decision is kept all the same
            log.exception("The figures of the time of a decision could not be computed")
            return figures

    # -- judging and trying

    def _judged_and_tried(self, entries: Sequence[_Entry], taken: Mapping[str, Event], now: datetime) -> Verdict:
        """Refuse what its sender may not enter, and try the rest; judged again without what is then not recorded."""
        self._judge(entries, taken, frozenset())
        new = _first_of_each_id(entries, taken)
        if self._sieve is None or not new:
            return Verdict({}, frozenset(), None, None)
        known = self._session.known_at(now)
        last = max((event.seq or 0 for event in known.events), default=0)
        events = [e.model_copy(update={"seq": last + n, "received": now}) for n, e in enumerate(new, start=1)]
        state, _, count = self._newest()
        shown = None if state is None else Figured(count, state.now, figures_of_state(state))
        verdict = self._sieve.tried(known, events, now, self._session.clock.mode(), shown)
        for entry in entries:
            if entry.answer is None and entry.event is not None and entry.event.id in verdict.untried:
                entry.answer = refused(entry.item, NOT_TRIED)
        self._judge(entries, taken, verdict.broken.keys() | verdict.untried)
        return verdict

    def _judge(self, entries: Sequence[_Entry], taken: Mapping[str, Event], not_recorded: Iterable[str]) -> None:
        """Refuse the entries that their senders may not make; what is `not_recorded` grants nothing."""
        if all(entry.visitor.role == "lead" for entry in entries):
            return
        grants = Grants(
            {event.id: event.kind for event in taken.values()},
            {event.id: event.event for event in taken.values() if isinstance(event, Answer)},
        )
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
        """Hand to the session what is left; what broke the cycle goes there as it came, into quarantine."""
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
        """Tell each sender what became of its entries, and what they did."""
        try:
            known = self._known(now).events
        except InputError:  # what was recorded is recorded, though the database went right after it
            known = list(taken.values())
        by_id = {event.id: event for event in known}
        plan, names = self._session.plan, KnownNames.of(self._session.plan, known)
        zero = max((e.at for e in known if isinstance(e, ClockSet)), default=plan.sortie.start)
        recorded = sum(entry.outcome is not None and entry.outcome.status == "recorded" for part in parts for entry in part)
        for part in parts:
            last = None
            for entry in part:
                if entry.outcome is None:
                    continue
                event = by_id.get(entry.outcome.id or "")
                entry.answer = answer(entry.outcome, event, names, now, plan, zero, by_id)
                if entry.outcome.status == "recorded" and entry.answer["status"] in TAKEN:
                    last = entry
            self._tell_effects(part, last, verdict.before, verdict.after, recorded)

    def _tell_effects(
        self, part: Sequence[_Entry], last: _Entry | None, before: Figures | None, after: Figures | None, recorded: int
    ) -> None:
        """Add to each answer what the entry did; what all of them moved stands with the last one recorded."""
        if before is None or after is None:
            return
        ids = {entry.event.id for entry in part if entry.event is not None}
        for entry in part:
            if entry.answer is None or entry.event is None or entry.outcome is None or entry.outcome.status != "recorded":
                continue
            entry.answer["did"] = effect_of(entry.event.id, before, after, ids, whole=entry is last, entries=recorded)

    def _known(self, now: datetime) -> Known:
        known = self._session.known_at(now)
        return known if self._sieve is None else self._sieve.sifted(known)


def _first_of_each_id(entries: Sequence[_Entry], taken: Mapping[str, Event]) -> list[Event]:
    """The events that would be new to the log."""
    new: dict[str, Event] = {}
    for entry in entries:
        if entry.answer is None and entry.event is not None and entry.event.id not in taken:
            new.setdefault(entry.event.id, entry.event)
    return list(new.values())


def _why_no_pet(item: dict[str, Any], state: SortieState | None) -> str | None:
    """Why the PET of an item cannot be read as an instant; None: it can."""
    if item.get("kind") == "clock":
        return "a clock event says when PET zero was: expected an instant such as 2031-04-12T09:10:00Z; found a PET."
    if state is None:
        return "no state could be computed yet, so PET zero is not known: expected an instant; found a PET."
    if state.basis.pet_zero_doubt:
        return f"PET zero is in doubt ({state.basis.pet_zero_doubt}): expected an instant; found a PET."
    return None
