"""User constraints of a request for advice: what is kept, what is given up on demand, and contradictions."""

from __future__ import annotations

import pytest

from dashboard.core.base.problems import InputError
from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.advise import Wish, advise
from dashboard.core.deferral.validate import faults
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from tests.core.deferral.cases import ENDING, HOME, LANES, STOP, WORK, advised
from tests.scenario import at, log_of, plan_of, task


def test_what_is_kept_is_never_given_up():
    """Told to keep C and B, only A is left to give."""
    advice = advised(WORK, wish=Wish(keep=frozenset({"C", "B"})))
    assert advice.proposals[0].figures.change.given_up() == ("A",)


def test_what_is_given_up_on_demand_is_part_of_every_choice():
    """B was ticked: its loss is counted, and no more than needed goes beside it."""
    advice = advised(WORK, wish=Wish(give_up=frozenset({"B"})))
    assert advice.proposals[0].figures.change.defer == ("B",)


def test_a_wish_does_not_change_whether_advice_is_needed():
    """With C ticked the limit is met, but as things stand it is not; without anything ticked, 20 min are missing."""
    advice = advised(WORK, wish=Wish(give_up=frozenset({"C"})))
    assert advice.proposals[0].figures.change == Change(defer=("C",))
    assert advice.needed
    assert advice.now.short_by_min == 20
    idle = advised(task("A", "EV1", 0, 40) + HOME, wish=Wish(give_up=frozenset({"A"})))
    assert idle.needed is False


def test_a_contingency_s_task_goes_only_when_a_person_asks():
    """Asked for, it is part of the choice, and the validator takes it."""
    record = reconcile(plan_of(LANES + STOP), log_of("0:00 clock\n0:00 insert arm-stop"), parse_instant(at("0:00")))
    first = advise(record, basis="plan-pace", wish=Wish(give_up=frozenset({"C2"}))).proposals[0]
    assert "C2" in first.figures.change.defer
    assert faults(record, first.figures.change, 100, asked=("C2",)) == []


@pytest.mark.parametrize(
    ("wish", "found"),
    [
        (Wish(keep=frozenset({"Z"})), "'Z'"),
        (Wish(give_up=frozenset({"HOME"})), "HOME is required"),
        (Wish(keep=frozenset({"B"}), give_up=frozenset({"A"})), "B is to be kept and comes after it"),
        (Wish(give_up=frozenset({"D"})), "D is deferred"),
    ],
)
def test_wishes_that_contradict_are_refused(wish, found):
    """What is wrong is named: an unknown task, a required one, a follower that is kept, one that is out already."""
    tables = task("A", "EV1", 0, 40) + task("B", "EV1", 40, 30, after=["A"]) + task("D", "EV2", 0, 30) + HOME
    with pytest.raises(InputError, match=found):
        advised(tables, "0:00 clock\n0:00 defer D", wish=wish)


def test_a_wish_that_makes_no_sense_is_refused():
    """OPEN is done and obliges CLOSE. RIG would go with B, which it serves alone, but it is to be kept."""
    tables = (
        task("OPEN", "EV1", 0, 10, obliges=["CLOSE"]) + task("CLOSE", "EV1", 10, 30) + task("RIG", "EV2", 0, 30, serves=["B"])
        + task("B", "EV2", 30, 30) + HOME
    )
    with pytest.raises(InputError, match="CLOSE goes although OPEN"):
        advised(tables, "0:00 clock\n0:00 start OPEN\n0:09 done OPEN", "0:10", wish=Wish(give_up=frozenset({"CLOSE"})))
    with pytest.raises(InputError, match="RIG would go along"):
        advised(tables, wish=Wish(give_up=frozenset({"B"}), keep=frozenset({"RIG"})))


def test_kept_tasks_of_two_options_contradict():
    """LONG and SHORT cannot both be done."""
    with pytest.raises(InputError, match="alternatives"):
        advised(ENDING, wish=Wish(keep=frozenset({"LONG", "SHORT"})))
