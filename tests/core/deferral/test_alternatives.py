"""The options of open alternatives as a way out."""

from __future__ import annotations

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.advise import Wish, advise
from dashboard.core.deferral.to_advice_model import advice_of
from dashboard.core.deferral.validate import faults
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from tests.core.deferral.cases import ENDING, HOME, LANES, advised
from tests.scenario import at, log_of, plan_of, task


def test_an_open_alternative_is_part_of_the_choice():
    """The short ending meets the limit without giving anything up."""
    tables = (
        task("A", "EV1", 0, 60) + task("LONG", "EV1", 60, 50) + task("SHORT", "EV1", 60, 20) + HOME
        + '[[alternative]]\nid = "ending"\ndefault = "long"\n[alternative.options]\nlong = ["LONG"]\nshort = ["SHORT"]\n'
    )
    advice = advised(tables)
    assert advice.proposals[0].figures.change.choose == {"ending": "short"}
    assert advice.proposals[0].figures.value_lost == {}


def test_a_task_of_the_standing_option_is_given_up_like_any_other():
    """Neither option fits beside A. LONG costs least and goes, whether by default or chosen; what that leaves open is said."""
    first = advised(ENDING).proposals[0]
    assert first.figures.change == Change(defer=("LONG",))
    assert first.figures.leaves_open == {"ending": "The ending, neither way is done"}
    assert " Leaves open: The ending, neither way is done." in first.why
    chosen = advised(ENDING, "0:00 clock\n0:00 choose ending option=short").proposals[0]
    assert chosen.figures.change.given_up() == ("SHORT",)
    assert advice_of(advised(ENDING)).choices[0].leaves_open == dict(first.figures.leaves_open)


def test_an_option_that_advice_takes_is_done_whole():
    """SHORT costs next to nothing, but taken in place of LONG it is done: with LONG kept out, A goes."""
    record = reconcile(plan_of(LANES + ENDING), log_of("0:00 clock"), parse_instant(at("0:00")))
    kept = advise(record, basis="plan-pace", wish=Wish(keep=frozenset({"SHORT"}))).proposals[0]
    assert kept.figures.change.defer == ("A",)
    taken = Change(defer=("SHORT",), choose={"ending": "short"})
    said = [rule.words for rule in faults(record, taken, 1e6)]
    assert "SHORT of option 'short', which is taken for 'ending', would not be done" in said


def test_an_option_that_cannot_be_done_whole_is_not_taken():
    """The short ending is SHORT and TIDY. With TIDY deferred by the room it is no way out: LONG goes."""
    tables = ENDING.replace('short = ["SHORT"]', 'short = ["SHORT", "TIDY"]').replace("duration = 35", "duration = 5")
    tables += task("TIDY", "EV1", None, 5)
    assert advised(tables).proposals[0].figures.change == Change(choose={"ending": "short"})
    assert advised(tables, "0:00 clock\n0:00 defer TIDY").proposals[0].figures.change == Change(defer=("LONG",))


def test_with_one_task_of_it_given_up_the_standing_option_is_left_open():
    """LONG and LONGER by default: LONG alone has to go, and LONGER stays as it would without any alternative."""
    tables = ENDING.replace('long = ["LONG"]', 'long = ["LONG", "LONGER"]').replace("value = 9", "required = true")
    tables += task("LONGER", "EV1", 120, 5, priority=3, value=0.2)
    first = advised(tables).proposals[0]
    assert first.figures.change == Change(defer=("LONG",))
    assert set(first.figures.leaves_open) == {"ending"}
    both = advised(tables, wish=Wish(give_up=frozenset({"LONGER"}))).proposals[0]
    assert both.figures.change.defer == ("LONGER", "LONG")
