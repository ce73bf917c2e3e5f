"""What the advice says, case by case."""

from __future__ import annotations

import pytest

from dashboard.core.deferral.advise import Wish, advise
from dashboard.core.reconcile import reconcile
from dashboard.core.times import parse_instant
from tests.scenario import at, log_of, plan_of, task

LANES = '[sortie]\nid = "t"\nstart = 2031-04-12T09:10:00Z\nlimit = 100\n'
LANES += "".join(f'[[lane]]\nid = "{n}"\nkind = "crew"\nsuit = "{s}"\n' for n, s in (("EV1", "A"), ("EV2", "B")))


def advised(tables, log="0:00 clock", pet="0:00", **more):
    record = reconcile(plan_of(LANES + tables), log_of(log), parse_instant(at(pet)))
    return advise(record, **{"basis": "plan-pace", **more})


HOME = task("HOME", "EV1 EV2", 110, 10, required=True)
WORK = (
    task("A", "EV1", 0, 40, priority=1) + task("B", "EV1", 40, 30, priority=2, shortest=20)
    + task("C", "EV1", 70, 40, priority=3) + HOME
)


def test_nothing_is_advised_when_nothing_must_go():
    """The limit is met: not needed, no choices."""
    advice = advised(task("A", "EV1", 0, 40) + HOME)
    assert not advice.needed
    assert advice.proposals == []


def test_the_lowest_class_goes_first_and_choices_differ():
    """C of priority 3 covers the 20 min that are missing; the next choice keeps C."""
    advice = advised(WORK)
    assert advice.needed
    assert advice.proposals[0].figures.change.defer == ("C",)
    assert advice.proposals[0].figures.value_lost == {3: 1.0}
    assert advice.proposals[0].figures.decide_by_pet_min == 70
    assert "C" not in advice.proposals[1].figures.change.given_up()
    assert "keeps C" in advice.proposals[1].differs


def test_what_is_kept_is_never_given_up():
    """Told to keep C and B, only A is left to give."""
    advice = advised(WORK, wish=Wish(keep=frozenset({"C", "B"})))
    assert advice.proposals[0].figures.change.given_up() == ("A",)


def test_what_is_given_up_on_demand_is_part_of_every_choice():
    """B was ticked: its loss is counted, and no more than needed goes beside it."""
    advice = advised(WORK, wish=Wish(give_up=frozenset({"B"})))
    assert advice.proposals[0].figures.change.defer == ("B",)


def test_work_in_hand_may_be_broken_off_at_the_price_of_its_close_out():
    """With only an overrunning task left to give, it is broken off and left safe."""
    tables = task("A", "EV1", 0, 80, closeout=5) + HOME
    advice = advised(tables, "0:00 clock\n0:00 start A\n0:50 estimate A remaining=60", "0:50")
    change = advice.proposals[0].figures.change
    assert change.break_off == ("A",)
    assert advice.proposals[0].figures.end_pet_min == 65


def test_a_task_may_be_handed_over_before_anything_is_lost():
    """EV2 is idle: moving B costs no value."""
    tables = task("A", "EV1", 0, 60) + task("B", "EV1", 60, 50, can_move_to=["EV2"]) + HOME
    advice = advised(tables)
    assert advice.proposals[0].figures.change.move == {"B": "EV2"}
    assert advice.proposals[0].figures.value_lost == {}


def test_an_open_alternative_is_part_of_the_choice():
    """The short ending meets the limit without giving anything up."""
    tables = (
        task("A", "EV1", 0, 60) + task("LONG", "EV1", 60, 50) + task("SHORT", "EV1", 60, 20) + HOME
        + '[[alternative]]\nid = "ending"\ndefault = "long"\n[alternative.options]\nlong = ["LONG"]\nshort = ["SHORT"]\n'
    )
    advice = advised(tables)
    assert advice.proposals[0].figures.change.choose == {"ending": "short"}
    assert advice.proposals[0].figures.value_lost == {}


def test_a_suit_that_runs_low_is_reason_enough():
    """In time but out of water: the task that uses most of it goes."""
    suit = '[[suit]]\nid = "A"\n[suit.water]\nloaded = 1.0\nreserve = 0.1\nbase = 0\nper_watt = 0.002\n'
    tables = task("A", "EV1", 0, 40, workload=500) + task("B", "EV1", 40, 40, workload=300) + suit
    advice = advised(tables)
    assert advice.needed
    assert advice.proposals[0].reached
    assert advice.proposals[0].figures.margins_min["A"] >= 0


def test_when_nothing_reaches_it_the_earliest_way_in_is_given():
    """Everything required: the advice says so in words."""
    advice = advised(task("A", "EV1", 0, 120, required=True) + HOME)
    assert advice.needed
    assert not advice.proposals[0].reached
    assert "earliest way in" in advice.proposals[0].why


def test_with_time_in_hand_get_aheads_that_fit_are_named():
    """G fits, the long one does not."""
    tables = task("A", "EV1", 0, 40) + task("G", "EV2", None, 20, get_ahead=True, priority=3)
    tables += task("LONG", "EV2", None, 300, get_ahead=True, priority=3) + HOME
    assert list(advised(tables).get_ahead) == ["G"]


def test_the_wanted_confidence_is_verified_by_draws():
    """A choice that only just fits at plan pace is not enough at 90 %; what is proposed holds when drawn."""
    tables = (
        task("A", "EV1", 0, [30, 40, 70], priority=1) + task("B", "EV1", 40, [20, 25, 45], priority=2)
        + task("C", "EV1", 65, [15, 20, 40], priority=3) + HOME
    )
    advice = advised(tables, basis="expected", confidence=0.9, draws=2000)
    assert advice.now.in_by_limit < 0.9
    assert advice.proposals[0].figures.in_by_limit >= 0.9
    assert advice.proposals[0].figures.end_pet_min == pytest.approx(75, abs=1)


def test_a_shortfall_of_a_few_minutes_is_closed_even_when_only_a_long_task_can_close_it():
    """At plan pace dropping C is enough, drawn it misses by a little: B or C more must go, and the advice says so."""
    tables = (
        task("A", "EV1", 0, [35, 40, 60], priority=1) + task("B", "EV1", 40, [30, 40, 60], priority=2)
        + task("C", "EV1", 80, [30, 40, 60], priority=3)
    )
    first = advised(tables, basis="expected", confidence=0.9, draws=2000).proposals[0]
    assert first.reached
    assert first.figures.in_by_limit >= 0.9
