"""Advice for the board, computed on a thread of its own so that it never holds up the cycle.

Rules of this file
------------------
1. New advice is computed only for a visible reason: an event came in, the need for advice changed, or the probability moved.
   Computations begin at least `LEAST_APART_S` apart; after an event and after a jump of the clock one begins at once, but no
   more than `BURST` in `BURST` times that long. What is being computed gives way to it; what came in the place of another is
   computed to its end. A note or a check changes no figure and makes nothing give way. Until new advice is there, the last advice
   stands, with its PET.
2. A choice is dropped as soon as it is no longer open: its decide-by time is past, or a task that it gives up was begun,
   finished or decided. What was to be decided at once when it was made stays while the log leaves it open, and is made anew
   every `CALL_EVERY_MIN` minutes of PET.
3. When an event came in, the figures of the standing choices are computed again within the cycle, and the advice is marked
   `outdated` until new advice is there. Nobody then decides on figures from before the event. A choice that now misses the
   wanted confidence by more than `MOVED_BY` is dropped. This takes longer than the state itself, so while events pour in it is
   done for one part in `1 + RESTS_FOR` of the time, and at least at the first cycle after `LONGEST_REST_S`.
4. All advice is dropped when the clock or PET jumps (back, or forward by more than `JUMP_MIN` between two cycles) and at the
   end of the sortie. Advice that is being computed then is dropped too.
5. When advice cannot be computed, the board says so, the call of before stands, and it is tried again at the next reason and
   every `CALL_EVERY_MIN` minutes of PET.
6. On a server advice is computed in a process of its own (`beside_maker`), because a thread would hold up the cycle.
7. The call is judged with each new advice and at least every `CALL_EVERY_MIN` minutes of PET, and is handed the call before it,
   which holds it back (`deferral.call`). After a start of the server and after a jump of the clock there is none before it: the
   first call then says that it is new. Once the room has decided something, a call of before is no longer shown.
8. What is found on the way is shown at once: first a cut that is not proven, then the call and the best choice, then the other
   choices, then the ladder.
"""

from __future__ import annotations

import logging
import math
import threading
import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import NamedTuple

from dashboard.core.base.times import minutes_between
from dashboard.core.deferral.advice_model import Advice, Choice
from dashboard.core.deferral.advise import Advised, Stopped, advise, call_now
from dashboard.core.deferral.call import CHANGES_NO_CALL, Call
from dashboard.core.deferral.previous_choice import refigured, steadied
from dashboard.core.deferral.still_open import TaskNow, is_open
from dashboard.core.deferral.to_advice_model import advice_of
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from dashboard.core.state.model import SortieState
from dashboard.core.state.with_call import called
from dashboard.service.beside.process import Beside, WorkFailed, WorkStopped
from dashboard.service.beside.worker import Note
from dashboard.words import pet_named

LEAST_APART_S = 10.0
BURST = 3
MOVED_BY = 0.05
RESTS_FOR = 9.0
LONGEST_REST_S = 2.0
CLOSING_S = 12.0
JUMP_MIN = 30.0
CALL_EVERY_MIN = 1.0
CHOICES = "advice.choices"
IN_HAND = "the choices are being worked out"
OF_THE_CHOICES = ("basis", "get_ahead", "get_ahead_after", "get_ahead_from", "get_ahead_until", "obstacle", "ladder")
NO_CALL = "The call could not be worked out."
NO_WAY = "nothing that may still be given up brings the crew in sooner"

log = logging.getLogger("tetherline")


class AdviceRequest(NamedTuple):
    """What a maker is asked for.

    Parameters
    ----------
    now : datetime
        The instant of the advice.
    before : Choice or None
        The first choice of the advice so far; None: there is none.
    call : Call or None
        The call before this one; None: none is known.
    only_call : bool
        Judge the call, and make no choices.
    """

    now: datetime
    before: Choice | None = None
    call: Call | None = None
    only_call: bool = False


class AdviceAnswer(NamedTuple):
    """What a maker tells; the advice is None when only the call was asked for, the call when it is not judged yet."""

    advice: Advice | None
    call: Call | None


Tell = Callable[[AdviceAnswer], None]
Maker = Callable[[Plan, Sequence[Event], AdviceRequest, Tell, Callable[[], bool]], AdviceAnswer]
Fold = Callable[[Sequence[Event], datetime], Record]
RestsOn = tuple[int, int]  # number of events that came in, and of events that count: an amendment changes only the first


@dataclass(frozen=True)
class _Made:
    """Result of one computation: advice, or why there is none."""

    advice: Advice | None
    why: str
    rests_on: RestsOn
    needed: bool | None
    in_by_limit: float | None
    pet_min: float
    is_final: bool = True


@dataclass(frozen=True, eq=False)
class _Asked:
    """One computation: what it is made from, whether the call alone is judged, and whether another one gave way to it."""

    plan: Plan
    events: list[Event]
    state: SortieState
    jumps: int
    only_call: bool
    in_place: bool

    @property
    def rests_on(self) -> RestsOn:
        return _rests_on(self.events, self.state)


class _Figured(NamedTuple):
    """The choices of the advice `made`, with figures computed from the events of `rests_on`."""

    made: _Made
    rests_on: RestsOn
    choices: list[Choice]


class Adviser:
    """Keeps the advice of one sortie.

    Parameters
    ----------
    counter_s
        A counter of real seconds.
    took
        Called with the seconds that each making of advice took.
    maker
        Computes the advice; None: it is computed in this process.

    `when_new` may be set: it is called whenever there is something new to show, on the thread of the computation.
    """

    def __init__(
        self, counter_s: Callable[[], float] = time.monotonic, took: Callable[[float], None] = lambda seconds: None,
        maker: Maker | None = None,
    ) -> None:
        self._counter_s, self._took, self._maker = counter_s, took, maker or made_here
        self.when_new: Callable[[], None] = lambda: None
        self._lock = threading.Lock()
        self._made: _Made | None = None
        self._call: Call | None = None
        self._figured: _Figured | None = None
        self._figure_again_s = -math.inf
        self._began_s: deque[float] = deque(maxlen=BURST)
        self._began_pet_min: float | None = None
        self._working: threading.Thread | None = None
        self._asked: _Asked | None = None
        self._jumps = 0
        self._seen: tuple[datetime, float] | None = None
        self._closed = threading.Event()

    def close(self) -> None:
        """Stop the running computation, and wait for its end up to `CLOSING_S`."""
        self._closed.set()
        self.settled(CLOSING_S)

    def attached(
        self, plan: Plan, events: Sequence[Event], state: SortieState, fold: Fold | None = None
    ) -> SortieState:
        """Add the standing advice to a state. When there is a reason, new advice is made beside this call.

        Parameters
        ----------
        plan
            The plan of the sortie.
        events
            All events that the state was computed from.
        state
            The state of the moment, without choices.
        fold
            Folds events at an instant into a record; None: as `reconcile` does.

        Returns
        -------
        SortieState
            With the choices that are still open, or with the reason in `not_known` when there are none.
        """
        with self._lock:
            if self._has_jumped(state) or state.ended:
                self._jumps += 1
                self._made = self._call = self._began_pet_min = None
            made, call = self._made, self._call
            whole = self._is_due(events, state)
            if whole or self._is_to_be_judged(state):
                self._began_s.append(self._counter_s())
                self._began_pet_min = state.pet_min
                in_place = self._asked is not None
                self._asked = _Asked(plan, list(events), state, self._jumps, only_call=not whole, in_place=in_place)
                if self._working is None:
                    self._start()
        if doubt := _doubt(state):
            return _without_choices(state, f"no advice while PET zero is in doubt: {doubt}")
        return self._with_choices(called(state, call), call, made, plan, events, fold or partial(reconcile, plan))

    def _with_choices(
        self, state: SortieState, call: Call | None, made: _Made | None, plan: Plan, events: Sequence[Event], fold: Fold
    ) -> SortieState:
        """The state with the choices that are still open, or with the reason why there are none."""
        if made is not None and made.advice is None:
            failed = state if call is not None else state.model_copy(
                update={"advice": state.advice.model_copy(update={"call_why": NO_CALL})}
            )
            return _without_choices(failed, made.why)
        if made is None or made.advice is None or made.advice.needed != state.advice.needed:
            return _without_choices(state, self._in_hand()) if state.advice.needed else state
        outdated = made.rests_on != _rests_on(events, state)
        choices = made.advice.choices
        if outdated:
            choices = self._figured_anew(made, made.advice, plan, events, state, fold)
        still_open = _still_open(choices, state, made.pet_min)
        if made.advice.choices and not still_open:
            return _without_choices(state, self._in_hand())
        update = {
            "choices": still_open, "outdated": outdated, "made_pet_min": made.pet_min, "in_progress": not made.is_final,
            **{field: getattr(made.advice, field) for field in OF_THE_CHOICES},
        }
        advice = state.advice.model_copy(update=update)
        if advice.needed and not still_open:
            return _without_choices(state.model_copy(update={"advice": advice}), NO_WAY)
        rest = {field: why for field, why in state.not_known.items() if field != CHOICES}
        return state.model_copy(update={"advice": advice, "not_known": rest})

    def _figured_anew(
        self, made: _Made, advice: Advice, plan: Plan, events: Sequence[Event], state: SortieState, fold: Fold
    ) -> list[Choice]:
        """The choices of the advice that still hold, with figures from these events; computed once for the same events.

        While events pour in, the figures of a moment ago stay, so that the choices do not hold up the state.
        """
        rests_on, known = _rests_on(events, state), self._figured
        if known is not None and known.made is made and self._counter_s() < self._figure_again_s:
            return known.choices
        if known is None or known.made is not made or known.rests_on != rests_on:
            began_s = self._counter_s()
            try:
                record = fold(events, state.now)
                found = refigured(record, advice.choices, plan.sortie.confidence, gives=MOVED_BY)
            except Exception:  # the board shows no choices until new advice is there
                log.exception("The figures of the standing choices could not be computed again")
                found = []
            self._figured = known = _Figured(made, rests_on, found)
            ended_s = self._counter_s()
            self._figure_again_s = ended_s + min(RESTS_FOR * (ended_s - began_s), LONGEST_REST_S)
        return known.choices

    def settled(self, seconds: float) -> bool:
        """Wait for the advice that is being made.

        Parameters
        ----------
        seconds
            How long to wait at most.

        Returns
        -------
        bool
            False when it takes longer; True when it is made, or none is being made.
        """
        working = self._working
        if working is not None:
            working.join(seconds)
        return working is None or not working.is_alive()

    def _in_hand(self) -> str:
        """Words that the choices are being computed, with the PET at which that began, if it has begun."""
        if self._working is None or self._began_pet_min is None:
            return IN_HAND
        return f"{IN_HAND} (since {pet_named(self._began_pet_min)})"

    def _start(self) -> None:
        """Have what is asked for computed on a thread. When none can be started, it is tried again like any other failure."""
        thread = threading.Thread(target=self._work, name="advice", daemon=True)
        try:
            thread.start()
        except RuntimeError:
            log.exception("No thread could be started for the advice")
            self._asked = None
        else:
            self._working = thread

    def _has_jumped(self, state: SortieState) -> bool:
        before, self._seen = self._seen, (state.now, state.pet_min)
        if before is None:
            return False
        return not all(0 <= by <= JUMP_MIN for by in (minutes_between(before[0], state.now), state.pet_min - before[1]))

    def _may_begin(self, state: SortieState, *, at_once: bool = False) -> bool:
        """Whether a computation may begin; `at_once`: also while another is going on, and sooner after it."""
        if self._closed.is_set() or state.ended or state.pet_min < 0 or state.advice.needed is None or _doubt(state):
            return False
        now_s, began_s = self._counter_s(), self._began_s
        if at_once and (len(began_s) < BURST or now_s - began_s[0] >= BURST * LEAST_APART_S):
            return True
        return self._working is None and (not began_s or now_s - began_s[-1] >= LEAST_APART_S)

    def _is_to_be_judged(self, state: SortieState) -> bool:
        return self._call is not None and state.pet_min - self._call.pet_min >= CALL_EVERY_MIN and self._may_begin(state)

    def _is_due(self, events: Sequence[Event], state: SortieState) -> bool:
        """Whether there is a reason for new choices, and one may be followed now."""
        made, asked = self._made, self._asked
        if asked is not None:
            jumped = asked.jumps != self._jumps
            gives_way = jumped or (not asked.in_place and _changes_figures(events, asked.rests_on, state))
            return gives_way and self._may_begin(state, at_once=True)
        at_once = made is None or _changes_figures(events, made.rests_on, state)
        if not self._may_begin(state, at_once=at_once):
            return False
        if made is None or made.rests_on != _rests_on(events, state):
            return True
        moved = abs((state.advice.in_by_limit or 0.0) - (made.in_by_limit or 0.0)) > MOVED_BY
        choices = made.advice.choices if made.advice is not None else []
        closed = bool(choices) and not _still_open(choices, state, made.pet_min)
        overdue = bool(choices) and not _still_open(choices, state)
        again = (made.advice is None or overdue) and state.pet_min - made.pet_min >= CALL_EVERY_MIN
        return made.needed != state.advice.needed or moved or closed or again

    def _work(self) -> None:
        """Compute what is asked for, and what is asked for in its place meanwhile."""
        asked: _Asked | None = None
        try:
            while (asked := self._next(asked)) is not None:
                self._make(asked)
        finally:
            with self._lock:
                if self._working is threading.current_thread():
                    self._asked = self._working = None

    def _next(self, done: _Asked | None) -> _Asked | None:
        """What is to be computed after `done`; None: nothing, and the next one gets a thread of its own."""
        with self._lock:
            if self._asked is done:
                self._asked = self._working = None
            return self._asked

    def _make(self, asked: _Asked) -> None:
        state = asked.state

        def unwanted() -> bool:
            return self._closed.is_set() or self._jumps != asked.jumps or self._asked is not asked

        def keep(told: AdviceAnswer, is_final: bool = False) -> None:
            with self._lock:
                if unwanted():
                    return
                self._call = told.call or self._call
                if told.advice is not None:
                    self._made = made_of(told.advice, "", is_final)
            self.when_new()

        def made_of(advice: Advice | None, why: str, is_final: bool) -> _Made:
            return _Made(advice, why, asked.rests_on, state.advice.needed, state.advice.in_by_limit, state.pet_min, is_final)

        with self._lock:
            made = self._made
            choices = [] if made is None or made.advice is None else _still_open(made.advice.choices[:1], state, made.pet_min)
            before = choices[0] if choices else None
            request = AdviceRequest(state.now, before, self._call, asked.only_call)
        began_s = self._counter_s()
        try:
            keep(self._maker(asked.plan, asked.events, request, keep, unwanted), is_final=True)
        except Stopped:
            return
        except Exception as wrong:  # the board goes on without advice, and says why there is none
            log.exception("The advice could not be computed. %s", wrong.trace if isinstance(wrong, WorkFailed) else "")
            said = str(wrong) if isinstance(wrong, WorkFailed) else f"{type(wrong).__name__}: {wrong}"
            why = (
                f"advice could not be computed ({said}); it is tried again within a minute and at the next event. "
                "Decide without it, and report this line"
            )
            with self._lock:
                if not unwanted():
                    self._made = made_of(None, why, True)
        self._took(self._counter_s() - began_s)


def made_here(
    plan: Plan, events: Sequence[Event], asked: AdviceRequest, tell: Tell, unwanted: Callable[[], bool]
) -> AdviceAnswer:
    """Work advice out in this process.

    Parameters
    ----------
    plan
        The briefed plan.
    events
        The events that count.
    asked
        What is wanted.
    tell
        Told what is found on the way.
    unwanted
        Asked again and again; once it says so, `Stopped` is raised.

    Returns
    -------
    AdviceAnswer
        In whose advice `asked.before` stays first while no other choice is better.
    """
    record = reconcile(plan, events, asked.now)
    if asked.only_call:
        return AdviceAnswer(None, call_now(record, previous=asked.call, stop=unwanted))
    before, kept = asked.before, list[Choice]()
    if before is not None:
        kept = refigured(record, [before], plan.sortie.confidence, wins_anew=True)

    def answer_of(advised: Advised) -> AdviceAnswer:
        return AdviceAnswer(steadied(kept[0] if kept else None, advice_of(advised)), advised.call)

    previous = None if before is None else before.change()
    return answer_of(
        advise(
            record, previous=previous, previous_call=asked.call, stop=unwanted, ladder=True,
            better=lambda advised: tell(answer_of(advised)),
        )
    )


def beside_maker(beside: Beside) -> Maker:
    """Have advice worked out in a process of its own.

    Parameters
    ----------
    beside
        That process.

    Returns
    -------
    callable
        Does as `made_here`.
    """

    def made(plan: Plan, events: Sequence[Event], asked: AdviceRequest, tell: Tell, unwanted: Callable[[], bool]) -> AdviceAnswer:
        try:
            told: AdviceAnswer = beside.work(_advice_job, events, asked, unwanted=unwanted, note=tell)
        except WorkStopped:
            raise Stopped from None
        return told

    return made


def _advice_job(plan: Plan, events: Sequence[Event], note: Note, asked: AdviceRequest) -> AdviceAnswer:
    return made_here(plan, events, asked, note, note.unwanted)


def _rests_on(events: Sequence[Event], state: SortieState) -> RestsOn:
    return (len(events), state.basis.events)


def _changes_figures(events: Sequence[Event], before: RestsOn, state: SortieState) -> bool:
    """Whether anything but notes and checks has come in since, or an event no longer counts."""
    came_in, counted = _rests_on(events, state)
    if came_in <= before[0]:
        return (came_in, counted) != before
    return any(event.kind not in CHANGES_NO_CALL for event in events[before[0]:])


def _doubt(state: SortieState) -> str | None:
    return state.basis.pet_zero_doubt


def _without_choices(state: SortieState, why: str) -> SortieState:
    return state.model_copy(update={"not_known": {**state.not_known, CHOICES: why}})


def _still_open(choices: Sequence[Choice], state: SortieState, made_pet_min: float | None = None) -> list[Choice]:
    return [choice for choice in choices if _in_time(choice, state, made_pet_min)]


def _in_time(choice: Choice, state: SortieState, made_pet_min: float | None = None) -> bool:
    """Whether a choice can still be made, and its decide-by time has not passed.

    A time that had come when the choice was made, at `made_pet_min`, passes with the log alone; None: each time counts.
    """
    def task(name: str) -> TaskNow | None:
        found = state.tasks.get(name)
        return None if found is None else TaskNow(found.state, found.in_plan, found.worked_min or 0.0)

    decided = state.alternatives.keys() - set(state.alternatives_open)
    open_now = is_open(choice, task, decided)
    by_pet_min = choice.decide_by_pet_min
    if by_pet_min is None or (made_pet_min is not None and by_pet_min <= made_pet_min):
        return open_now
    return open_now and by_pet_min >= state.pet_min
