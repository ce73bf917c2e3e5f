"""Advice beside the cycle: made for a reason, not too often, dropped when it no longer holds."""

from __future__ import annotations

import threading
from dataclasses import replace

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.advise import advise
from dashboard.core.deferral.call import Call
from dashboard.core.deferral.figures import figures_of
from dashboard.core.deferral.to_advice_model import advice_of, margins_at_end
from dashboard.core.deferral.wish import Wish
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project
from dashboard.core.state.follow import follow
from dashboard.screens.choices import snapshot as choices_snapshot
from dashboard.screens.ids import Choices
from dashboard.service import adviser as adviser_module
from dashboard.service.adviser import BURST, LEAST_APART_S, AdviceAnswer, Adviser, beside_maker, made_here
from dashboard.service.beside.process import Beside, WorkFailed
from tests.scenario import at, lanes, log_of, plan_of, suit, task
from tests.waiting import DEADLINE_S, StandingCounter

SHORT = '[sortie]\nid = "t"\nstart = 2031-04-12T09:10:00Z\nlimit = 115\n'
PLAN = plan_of(
    SHORT + lanes({"EV1": None})
    + task("A", "EV1", 0, [35, 40, 60], priority=1) + task("B", "EV1", 40, [30, 40, 60], priority=2)
    + task("C", "EV1", 80, [30, 40, 60], priority=3)
)
LOG = "0:00 clock\n0:00 start A"
SUITED = plan_of(
    SHORT + lanes({"EV1": "A"})
    + suit("A", water={"loaded": 4.0, "reserve": 0.4, "base": 1.2, "per_watt": 0})
    + task("A", "EV1", 0, [35, 40, 60], priority=1) + task("B", "EV1", 40, [30, 40, 60], priority=2)
    + task("C", "EV1", 80, [30, 40, 60], priority=3)
)


def state_at(pet: str, log: str = LOG, plan=PLAN):
    return follow(plan, log_of(log), parse_instant(at(pet)))


def attached_at(adviser: Adviser, pet: str, log: str = LOG, plan=SUITED):
    return adviser.attached(plan, log_of(log), state_at(pet, log, plan))


def test_the_first_call_has_it_made_and_a_later_one_has_it():
    """The call itself never waits."""
    adviser = Adviser(StandingCounter())
    at_once = adviser.attached(PLAN, log_of(LOG), state_at("0:10"))
    assert at_once.advice.choices == []
    assert at_once.not_known["advice.choices"].startswith("the choices are being worked out")
    assert adviser.settled(DEADLINE_S)
    advised = adviser.attached(PLAN, log_of(LOG), state_at("0:11"))
    assert advised.advice.choices[0].defer == ("C",)
    assert "advice.choices" not in advised.not_known


def test_it_tells_how_long_the_making_took(monkeypatch):
    """On the counter of real seconds."""
    counter, took = StandingCounter(), []

    def slow(*_: object, **__: object) -> object:
        counter.seconds += 7.0
        raise ValueError

    monkeypatch.setattr(adviser_module, "advise", slow)
    adviser = Adviser(counter, took.append)
    adviser.attached(PLAN, log_of(LOG), state_at("0:10"))
    assert adviser.settled(DEADLINE_S)
    assert took == [7.0]


def test_whoever_shows_it_is_told_when_there_is_something_new():
    """At least for the first cut or the best choice, and at the end; not when nobody wants it any more."""
    adviser, news = Adviser(StandingCounter()), []
    adviser.when_new = lambda: news.append(len(adviser.attached(PLAN, log_of(LOG), state_at("0:10")).advice.choices))
    adviser.attached(PLAN, log_of(LOG), state_at("0:10"))
    assert adviser.settled(DEADLINE_S)
    assert len(news) >= 2 and news[-1] >= news[0] >= 1


def test_while_it_is_being_made_it_says_since_when(monkeypatch):
    """Choices that take long: their PET does not move with the clock."""
    go_on = threading.Event()
    monkeypatch.setattr(adviser_module, "advise", lambda *args, **more: go_on.wait(DEADLINE_S))
    adviser = Adviser(StandingCounter())
    for pet in ("0:10", "0:13"):
        state = adviser.attached(PLAN, log_of(LOG), state_at(pet))
        assert state.not_known["advice.choices"] == "the choices are being worked out (since PET 0:10)"
        body = choices_snapshot(PLAN, state)[Choices.BODY].replace("\u00a0", " ")
        assert "The choices are being worked out (since PET 0:10)." in body
        assert "No choices" not in body
    go_on.set()


def test_after_an_event_it_is_made_at_once_but_not_more_often_than_a_burst_in_its_time():
    """Two events within the same second are followed at once; a third waits until ten seconds have passed since the last."""
    counter, maker, log = StandingCounter(), Makes(*[call_at(10, "none")] * (BURST + 1)), LOG
    adviser = Adviser(counter, maker=maker)
    for made in (*range(1, BURST + 1), BURST):
        settled_at(adviser, "0:10", log)
        assert len(maker.asked) == made
        log += "\n0:10 estimate A remaining=32"
    counter.seconds = LEAST_APART_S
    settled_at(adviser, "0:10", log)
    assert len(maker.asked) == BURST + 1


def test_without_a_reason_it_stands():
    """The same objects, however often they are asked for; the clock alone is no reason within a minute of PET."""
    counter, maker = StandingCounter(), Makes(call_at(10, "none"))
    adviser = Adviser(counter, maker=maker)
    settled_at(adviser, "0:10")
    counter.seconds = LEAST_APART_S + 1
    first, again = settled_at(adviser, "0:10").advice, settled_at(adviser, "0:10").advice
    assert first.choices and all(a is b for a, b in zip(first.choices, again.choices, strict=True))
    assert len(maker.asked) == 1


@pytest.mark.parametrize(("entries", "made_at"), [
    (["0:11 estimate A remaining=32"], 11),
    (["0:11 note hello", "0:12 note text=fine"], 10),
    (["0:11 estimate A remaining=32", "0:12 estimate A remaining=33", "0:13 estimate A remaining=34"], 11),
])  # fmt: skip
def test_what_is_being_made_gives_way_to_an_event_once(held, entries: list[str], made_at: int):
    """Not to a note or a check, which change no figure. What came in its place is made to its end, however many events follow."""
    go, begun = held
    adviser, log = Adviser(StandingCounter()), LOG
    adviser.attached(PLAN, log_of(log), state_at("0:10"))
    assert begun.wait(DEADLINE_S)
    for entry in entries:
        log += f"\n{entry}"
        adviser.attached(PLAN, log_of(log), state_at(entry[:4], log))
    go.set()
    assert adviser.settled(DEADLINE_S)
    told = adviser.attached(PLAN, log_of(log), state_at(entries[-1][:4], log)).advice
    assert (told.made_pet_min, told.outdated) == (made_at, entries[1:] != [])


def test_it_is_dropped_when_the_clock_goes_back_behind_it():
    """Advice of PET 0:10 says nothing of PET 0:05."""
    adviser = Adviser(StandingCounter())
    adviser.attached(PLAN, log_of(LOG), state_at("0:10"))
    assert adviser.settled(DEADLINE_S)
    assert adviser.attached(PLAN, log_of(LOG), state_at("0:05")).advice.choices == []


def test_once_decided_it_no_longer_shows():
    """With C deferred nothing must be given up, and the old choices are gone."""
    adviser = Adviser(StandingCounter())
    adviser.attached(PLAN, log_of(LOG), state_at("0:10"))
    assert adviser.settled(DEADLINE_S)
    decided = LOG + "\n0:11 defer C"
    assert adviser.attached(PLAN, log_of(decided), state_at("0:12", decided)).advice.choices == []


def test_a_choice_that_is_no_longer_open_is_dropped():
    """The clock jumps on and C has begun: the choice that defers C is not shown, and says nothing of PET 0:10."""
    adviser = Adviser(StandingCounter())
    adviser.attached(PLAN, log_of(LOG), state_at("0:10"))
    assert adviser.settled(DEADLINE_S)
    advised = adviser.attached(PLAN, log_of(LOG), state_at("0:12")).advice
    assert advised.choices[0].defer == ("C",)
    assert advised.made_pet_min == 10
    later = LOG + "\n0:20 start C"
    shown = adviser.attached(PLAN, log_of(later), state_at("0:30", later)).advice.choices
    assert all("C" not in choice.defer for choice in shown)


@pytest.fixture
def held(monkeypatch):
    """Making advice waits for `go`; `begun` says that it was asked for."""
    real, go, begun = adviser_module.advise, threading.Event(), threading.Event()

    def waiting(record, **given):
        begun.set()
        assert go.wait(DEADLINE_S)
        return real(record)  # a computation that is past its last look at `stop`

    monkeypatch.setattr(adviser_module, "advise", waiting)
    return go, begun


@pytest.mark.parametrize("elsewhere", ["0:02", "0:50"])
def test_advice_in_the_making_when_the_clock_jumps_is_dropped(held, elsewhere: str):
    """Asked for at PET 0:10; a seek back or far on before it is there: what is shown then was made after the seek."""
    go, begun = held
    adviser = Adviser(StandingCounter())
    adviser.attached(PLAN, log_of(LOG), state_at("0:10"))
    assert begun.wait(DEADLINE_S)
    adviser.attached(PLAN, log_of(LOG), state_at(elsewhere))
    go.set()
    assert adviser.settled(DEADLINE_S)
    again = adviser.attached(PLAN, log_of(LOG), state_at("0:11" if elsewhere == "0:02" else "0:51"))
    assert again.advice.made_pet_min == (2 if elsewhere == "0:02" else 50)


@pytest.mark.parametrize(("pet", "more"), [("0:10", "\n0:10 estimate A remaining=32"), ("0:11", "")])
def test_advice_that_cannot_be_computed_is_said_and_tried_again(monkeypatch, pet: str, more: str):
    """In words and on the board, with what to do. The next event or the next minute has it made anew, and then it is there."""
    real, counter = adviser_module.advise, StandingCounter()
    monkeypatch.setattr(adviser_module, "advise", lambda record, **given: 1 / 0)
    adviser = Adviser(counter)
    adviser.attached(PLAN, log_of(LOG), state_at("0:10"))
    assert adviser.settled(DEADLINE_S)
    told = adviser.attached(PLAN, log_of(LOG), state_at("0:10"))
    why = told.not_known["advice.choices"]
    assert (told.advice.call, told.advice.call_why) == (None, "The call could not be worked out.")
    assert "could not be computed (ZeroDivisionError" in why and "tried again within a minute" in why
    assert "could not be computed" in choices_snapshot(PLAN, told)[Choices.BODY]
    counter.seconds = LEAST_APART_S + 1
    monkeypatch.setattr(adviser_module, "advise", real)
    adviser.attached(PLAN, log_of(LOG), state_at("0:10"))
    assert adviser.settled(DEADLINE_S)
    assert adviser.attached(PLAN, log_of(LOG), state_at("0:10")).not_known["advice.choices"] == why  # no reason yet
    adviser.attached(PLAN, log_of(LOG + more), state_at(pet, LOG + more))
    assert adviser.settled(DEADLINE_S)
    assert adviser.attached(PLAN, log_of(LOG + more), state_at(pet, LOG + more)).advice.choices[0].defer == ("C",)


def test_a_computation_that_fails_leaves_the_call_that_stands():
    """The room is still asked, though no choice is there."""
    def fails(*given: object) -> AdviceAnswer:
        raise WorkFailed("its process ended")

    counter, decide = StandingCounter(), call_at(10, "decide")
    maker = Makes(decide)
    adviser = Adviser(counter, maker=lambda *given: maker(*given) if maker.calls else fails())
    for pet in ("0:10", "0:12", "0:12"):
        told = settled_at(adviser, pet).advice
        counter.seconds += LEAST_APART_S
    assert (told.call, told.call_for_now.defer) == ("decide", ("C",))


def test_advice_goes_on_after_no_thread_could_be_started_once(monkeypatch):
    """The next look starts one."""
    adviser, real = Adviser(StandingCounter()), threading.Thread.start
    monkeypatch.setattr(threading.Thread, "start", lambda self: (_ for _ in ()).throw(RuntimeError("can't start new thread")))
    adviser.attached(PLAN, log_of(LOG), state_at("0:10"))
    monkeypatch.setattr(threading.Thread, "start", real)
    adviser.attached(PLAN, log_of(LOG), state_at("0:10"))
    assert adviser.settled(DEADLINE_S)
    assert adviser.attached(PLAN, log_of(LOG), state_at("0:10")).advice.choices


def test_a_choice_to_be_decided_at_once_stays_while_it_is_open():
    """Breaking off A is for now whenever it is looked at. It is shown, made anew after a minute, and dropped once A is over."""
    plan = plan_of(SHORT + lanes({"EV1": None}) + task("A", "EV1", 0, 100, closeout=2) + task("B", "EV1", 100, 20, required=True))
    counter, made = StandingCounter(), []
    adviser = Adviser(counter)
    for pet in ("0:10", "0:10", "0:11", "0:11"):
        advice = adviser.attached(plan, log_of(LOG), state_at(pet, LOG, plan)).advice
        made.append((advice.made_pet_min, [choice.break_off for choice in advice.choices]))
        counter.seconds += LEAST_APART_S
        assert adviser.settled(DEADLINE_S)
    assert made[1:] == [(10, [("A",)]), (10, [("A",)]), (11, [("A",)])]
    over = LOG + "\n0:12 done A"
    assert adviser.attached(plan, log_of(over), state_at("0:12", over, plan)).advice.choices == []


def test_a_change_of_pet_zero_is_a_jump():
    """Advice of PET 0:10 says nothing of what is now PET 0:04."""
    adviser, later = Adviser(StandingCounter()), LOG.replace("0:00 clock", "0:06 clock")
    settled_at(adviser, "0:10")
    assert settled_at(adviser, "0:10").advice.made_pet_min == 10
    told = adviser.attached(PLAN, log_of(later), state_at("0:10", later))
    assert (told.pet_min, told.advice.choices) == (4, [])


def test_choices_whose_time_is_past_are_a_reason():
    """No event came in and the probability stands: once no choice is open any more, new ones are made."""
    counter = StandingCounter()
    adviser = Adviser(counter)
    adviser.attached(PLAN, log_of(LOG), state_at("0:10"))
    assert adviser.settled(DEADLINE_S)
    made = adviser._made
    assert made is not None and made.advice is not None
    past = [choice.model_copy(update={"decide_by_pet_min": 10.5}) for choice in made.advice.choices]
    adviser._made = replace(made, advice=made.advice.model_copy(update={"choices": past}))
    counter.seconds = LEAST_APART_S + 1
    shown = adviser.attached(PLAN, log_of(LOG), state_at("0:11"))
    assert (shown.advice.choices, shown.not_known["advice.choices"]) == ([], f"{adviser_module.IN_HAND} (since PET 0:11)")
    assert adviser.settled(DEADLINE_S)
    assert adviser.attached(PLAN, log_of(LOG), state_at("0:11")).advice.choices


def test_while_pet_zero_is_in_doubt_no_advice_is_made():
    """Nothing logged an hour after the planned start: the words ask for PET zero, and nothing is computed."""
    adviser = Adviser(StandingCounter())
    waiting = "0:00 note waiting"
    told = adviser.attached(PLAN, log_of(waiting), state_at("1:00", waiting))
    assert "PET zero is in doubt" in told.not_known["advice.choices"]
    assert adviser.settled(0)
    assert adviser.attached(PLAN, log_of(waiting), state_at("1:01", waiting)).advice.choices == []


def test_the_first_choice_stays_first_while_it_is_as_good(monkeypatch):
    """Advice made anew that would give up something dearer instead leaves the earlier first choice in its place."""
    counter = StandingCounter()
    adviser = Adviser(counter)
    adviser.attached(PLAN, log_of(LOG), state_at("0:10"))
    assert adviser.settled(DEADLINE_S)
    assert adviser.attached(PLAN, log_of(LOG), state_at("0:10")).advice.choices[0].defer == ("C",)
    real = adviser_module.advise
    monkeypatch.setattr(
        adviser_module, "advise", lambda record, **given: real(record, wish=Wish(keep=frozenset({"C"})), **given)
    )
    more = LOG + "\n0:11 note hello"
    counter.seconds = LEAST_APART_S + 1
    adviser.attached(PLAN, log_of(more), state_at("0:12", more))
    assert adviser.settled(DEADLINE_S)
    choices = adviser.attached(PLAN, log_of(more), state_at("0:12", more)).advice.choices
    assert choices[0].defer == ("C",) and choices[0].differs == "as advised before"


def test_a_reading_figures_the_standing_choices_anew_at_once():
    """By less water the choice leaves that much less: in the same cycle, and the head says that it is of before."""
    counter = StandingCounter()
    adviser = Adviser(counter)
    attached_at(adviser, "0:10")
    assert adviser.settled(DEADLINE_S)
    (before, *_) = attached_at(adviser, "0:11").advice.choices
    read = LOG + "\n0:11 reading A water=3.6"
    told = attached_at(adviser, "0:11", read)
    (now, *_) = told.advice.choices
    record = reconcile(SUITED, log_of(read), parse_instant(at("0:11")))
    figures = figures_of(record, project(record), before.change(), confidence=SUITED.sortie.confidence)
    assert now.change() == before.change()
    assert (now.margin_min, now.in_by_limit) == (margins_at_end(figures), figures.in_by_limit)
    assert now.margin_min["A"] < before.margin_min["A"] - 3
    assert told.advice.outdated
    assert "older than the last event, being worked out again" in choices_snapshot(SUITED, told)[Choices.HEAD]
    counter.seconds = LEAST_APART_S + 1
    attached_at(adviser, "0:11", read)
    assert adviser.settled(DEADLINE_S)
    again = attached_at(adviser, "0:11", read)
    assert again.advice.choices and not again.advice.outdated
    assert "computed at PET 0:11" in choices_snapshot(SUITED, again)[Choices.HEAD]


def test_a_choice_that_a_reading_makes_untrue_is_not_offered():
    """With so little water left no choice of before brings the crew in: nothing of it can be recorded meanwhile."""
    adviser = Adviser(StandingCounter())
    attached_at(adviser, "0:10")
    assert adviser.settled(DEADLINE_S)
    assert "Record decision" in choices_snapshot(SUITED, attached_at(adviser, "0:11"))[Choices.BODY]
    told = attached_at(adviser, "0:11", LOG + "\n0:11 reading A water=1.0")
    assert told.advice.choices == []
    assert told.not_known["advice.choices"].startswith(adviser_module.IN_HAND)
    assert "Record decision" not in choices_snapshot(SUITED, told)[Choices.BODY]


def test_the_clock_alone_makes_no_choice_older():
    """No event came in: the choices stand as they were made."""
    adviser = Adviser(StandingCounter())
    attached_at(adviser, "0:10")
    assert adviser.settled(DEADLINE_S)
    (first, later) = (attached_at(adviser, pet).advice for pet in ("0:10", "0:13"))
    assert first.choices and later.choices == first.choices and not later.outdated


def test_an_amendment_is_a_reason():
    """As many events count as before it; the choices are made anew all the same."""
    counter = StandingCounter()
    adviser = Adviser(counter)
    read = LOG + "\n0:10 reading A water=3.6"
    attached_at(adviser, "0:10", read)
    assert adviser.settled(DEADLINE_S)
    amended = read + '\n0:11 amend e3 changes={"water":3.8}'
    assert attached_at(adviser, "0:11", amended).advice.outdated
    counter.seconds = LEAST_APART_S + 1
    attached_at(adviser, "0:11", amended)
    assert adviser.settled(DEADLINE_S)
    assert attached_at(adviser, "0:11", amended).advice.made_pet_min == 11


def test_with_a_new_event_what_the_parts_win_does_not_go_and_come_back():
    """The same choice is told several times while advice is made: each time with its wins and the same decide-by times."""
    counter, told = StandingCounter(), []
    adviser = Adviser(counter)
    adviser.attached(PLAN, log_of(LOG), state_at("0:10"))
    assert adviser.settled(DEADLINE_S)
    more, counter.seconds = LOG + "\n0:11 estimate A remaining=32", LEAST_APART_S + 1
    adviser.when_new = lambda: told.append(adviser.attached(PLAN, log_of(more), state_at("0:11", more)).advice.choices[0])
    adviser.attached(PLAN, log_of(more), state_at("0:11", more))
    assert adviser.settled(DEADLINE_S)
    assert len(told) >= 3 and all(choice.change() == told[-1].change() for choice in told)
    assert all(choice.items == told[-1].items for choice in told) and told[-1].items[0].wins_min > 0


def test_choices_that_cannot_be_figured_anew_are_left_out_until_made_again(monkeypatch):
    """The board goes on."""
    adviser = Adviser(StandingCounter())
    attached_at(adviser, "0:10")
    assert adviser.settled(DEADLINE_S)
    monkeypatch.setattr(adviser_module, "refigured", lambda *given, **more: 1 / 0)
    told = attached_at(adviser, "0:11", LOG + "\n0:11 note hello")
    assert (told.advice.choices, told.not_known["advice.choices"][:31]) == ([], adviser_module.IN_HAND[:31])


def test_while_events_pour_in_the_choices_do_not_hold_up_the_state(monkeypatch):
    """Figures that took half a second stand for two seconds, the longest rest; then come those of the newest event."""
    monkeypatch.setattr(adviser_module, "BURST", 1)
    counter, figured = StandingCounter(), []
    adviser = Adviser(counter)
    attached_at(adviser, "0:10")
    assert adviser.settled(DEADLINE_S)
    refigured = adviser_module.refigured

    def slow(record, choices, *given, **more):
        counter.seconds += 0.5
        figured.append(len(record.counted.events))
        return refigured(record, choices, *given, **more)

    monkeypatch.setattr(adviser_module, "refigured", slow)
    notes = [LOG + "\n0:11 note hello" * many for many in (1, 2, 3)]
    for log, wait in zip(notes, (0.0, 1.9, 0.2), strict=True):
        counter.seconds += wait
        assert attached_at(adviser, "0:11", log).advice.choices
    assert figured == [3, 5]


def test_advice_from_a_process_of_its_own_is_the_same():
    """What it says when the process fails, it says as of any failure."""
    beside = Beside(PLAN, "advice")
    counter = StandingCounter()
    adviser, here = Adviser(counter, maker=beside_maker(beside)), Adviser(StandingCounter())
    for one in (adviser, here):
        one.attached(PLAN, log_of(LOG), state_at("0:10"))
        assert one.settled(DEADLINE_S)
    advised, wanted = (one.attached(PLAN, log_of(LOG), state_at("0:11")).advice for one in (adviser, here))
    assert advised == wanted and advised.choices[0].defer == ("C",)
    beside.close()
    closed = Adviser(StandingCounter(), maker=beside_maker(beside))
    closed.attached(PLAN, log_of(LOG), state_at("0:10"))
    assert closed.settled(DEADLINE_S)


def test_a_failure_in_the_process_is_said():
    """Its kind and its words; where it happened is logged."""
    def fails(*given: object) -> object:
        raise WorkFailed("ValueError: a gap", "in the third line")

    adviser = Adviser(StandingCounter(), maker=fails)
    adviser.attached(PLAN, log_of(LOG), state_at("0:10"))
    assert adviser.settled(DEADLINE_S)
    said = adviser.attached(PLAN, log_of(LOG), state_at("0:11")).not_known["advice.choices"]
    assert said.startswith("advice could not be computed (ValueError: a gap); it is tried again")


def call_at(pet_min: float, call: str, decisions: int = 0) -> Call:
    return Call(
        call=call, why="because", by_pet_min=30.0, for_now=Change(defer=("C",)), changed_by="done A", since_pet_min=pet_min,
        pet_min=pet_min, due=call, due_since_pet_min=pet_min, events=2, decisions=decisions,
    )


class Makes:
    """A maker whose calls are given; it keeps what it was asked for."""

    def __init__(self, *calls: Call) -> None:
        self.calls, self.asked = list(calls), []
        record = reconcile(PLAN, log_of(LOG), parse_instant(at("0:10")))
        self.advice = advice_of(advise(record, draws=200, choices=1))

    def __call__(self, plan, events, asked, tell, unwanted) -> AdviceAnswer:
        self.asked.append(asked)
        return AdviceAnswer(None if asked.only_call else self.advice, self.calls.pop(0))


def settled_at(adviser: Adviser, pet: str, log: str = LOG):
    state = adviser.attached(PLAN, log_of(log), state_at(pet, log))
    assert adviser.settled(DEADLINE_S)
    return state


def test_each_call_is_handed_on_to_the_next():
    """Judged again after a minute of PET without an event, and then without choices; a jump of the clock begins anew."""
    counter, expect, decide = StandingCounter(), call_at(10, "expect"), call_at(12, "decide")
    maker = Makes(expect, decide, call_at(50, "none"))
    adviser = Adviser(counter, maker=maker)
    assert settled_at(adviser, "0:10").advice.call is None
    counter.seconds += LEAST_APART_S
    assert settled_at(adviser, "0:10").advice.call == "expect"
    assert settled_at(adviser, "0:12").advice.call == "expect"
    told = settled_at(adviser, "0:12").advice
    assert (told.call, told.call_since_pet_min, told.call_changed_by, told.call_for_now.defer) == ("decide", 12, "done A", ("C",))
    counter.seconds += LEAST_APART_S
    assert settled_at(adviser, "0:50").advice.call is None
    assert [(one.call, one.only_call) for one in maker.asked] == [(None, False), (expect, True), (None, False)]


def test_a_call_to_decide_is_an_alert_until_the_room_has_decided():
    """Then the call of before is not shown any more; that it is judged again is said."""
    adviser = Adviser(StandingCounter(), maker=Makes(call_at(10, "decide")))
    settled_at(adviser, "0:10")
    alert = next(one for one in settled_at(adviser, "0:11").alerts if one.id == "call")
    assert (alert.what, alert.since_pet_min, alert.by_pet_min) == ("Decide now: defer C", 10, 30)
    decided = settled_at(adviser, "0:12", LOG + "\n0:12 defer C")
    assert decided.advice.call is None and "judged again" in decided.advice.call_why
    assert [one for one in decided.alerts if one.id == "call"] == []


def test_what_is_found_first_is_told_first():
    """A cut, then the call with the best choice, then the others, then the ladder."""
    told: list[AdviceAnswer] = []
    asked = adviser_module.AdviceRequest(parse_instant(at("0:10")))
    last = made_here(PLAN, log_of(LOG), asked, told.append, lambda: False)
    assert [(one.call is not None, len(one.advice.choices) > 1, bool(one.advice.ladder)) for one in (*told, last)] == [
        (False, False, False), (True, False, False), (True, True, False), (True, True, True),
    ]
