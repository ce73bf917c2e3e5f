"""What was decided takes effect."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.events.kinds import UnreadableEvent
from dashboard.core.state.log_in_words import logbook
from tests.core.events.examples import example
from tests.core.sorties import PLAN
from tests.scenario import at, follow_at, log_of


def test_a_decision_defers_and_trims_what_it_names():
    """The decision takes effect as if the defer and the trim had been entered."""
    state = follow_at(PLAN, '0:00 clock\n0:05 decision time defer=E trim={"A":12}', "0:10")
    assert state.tasks["E"].state == "deferred"
    assert state.tasks["A"].planned_min == 12
    assert state.basis.decisions == 1


@pytest.mark.parametrize("trim", [{"A": 1e308}, {"A": -1}, {"A": None}, {f"T{n}": 5 for n in range(1000)}])
def test_a_trim_beyond_its_limits_cannot_be_read(trim):
    """A length of up to 24 hours, for as many tasks as a sortie may have."""
    with pytest.raises(UnreadableEvent, match="trim"):
        example("decision", trim=trim)


@pytest.mark.parametrize("effect", [{"defer": ["C1"], "trim": {}}, {"defer": [], "trim": {"C1": 4}}])
def test_a_decision_on_a_contingency_that_is_not_inserted_stays_in_the_log(effect):
    """Also when it is asked what would take it back."""
    events = [*log_of("0:00 clock"), example("decision", **effect)]
    (_, shown) = logbook(PLAN, events, parse_instant(at("0:30")))
    assert shown.can_take_back and "C1" in shown.text


def test_each_task_is_deferred_once():
    """However often a decision names it."""
    assert example("decision", defer=["B", "A", "B"]).defers() == ("B", "A")


@pytest.mark.parametrize("then", [None, 5, "x", {"pet_min": "soon"}, {"margin_min": 3}])
def test_figures_of_its_own_time_that_are_none_are_not_known(then):
    """A sender may give figures of its own; the decision counts all the same."""
    assert example("decision", figures={"pet_min": 40, "then": then}).figures.of_its_own_time is None
    assert example("decision", figures={"pet_min": 40}).figures.of_its_own_time is None


def test_figures_of_its_own_time_are_read_like_the_others():
    """They are the same figures, of an earlier time."""
    figures = example("decision", figures={"pet_min": 40, "then": {"pet_min": 20, "end_p50_pet_min": 119.4}}).figures
    assert figures.of_its_own_time.in_words() == "the figures of PET 0:20, end P50 PET 2:00"
