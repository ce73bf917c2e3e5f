"""By when each part of a change must be decided, and which part is for now."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.advise import advise
from dashboard.core.deferral.change import closed
from dashboard.core.deferral.to_advice_model import advice_of
from dashboard.core.deferral.when_to_decide import (
    NO_TIME,
    Times,
    first_decide_by,
    part_for_now,
    parts_in_time,
)
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.expected import expect
from dashboard.core.schedule.plan_pace import project
from tests.core.deferral.cases import ENDING, HOME, LANES, WORK
from tests.scenario import at, log_of, plan_of, task

LEAD = 'limit = 100\nlead = 20\n'
TABLES = (
    task("A", "EV1", 0, 30, shortest=15, closeout=5) + task("B", "EV1", 30, 20) + task("C", "EV1", 50, 20, shortest=10)
    + task("D", "EV1", 70, 20) + HOME
)


def parts(tables, change, log="0:00 clock", pet="0:00", *, draws=0):
    """The parts of a change with their times, lead 20 min."""
    record = reconcile(plan_of(LANES.replace("limit = 100\n", LEAD) + tables), log_of(log), parse_instant(at(pet)))
    before = project(record)
    times = Times(before, expect(record, before, draws=draws) if draws else None)
    return parts_in_time(record, times, closed(record, change)), closed(record, change)


def test_each_part_has_its_own_decide_by_time():
    """B is projected to begin at 0:30, C at 0:50, D at 1:10; nothing is for now at PET 0:00."""
    found, _ = parts(TABLES, Change(defer=("B", "D"), trim={"C": 10.0}))
    assert [(one.part.name, one.decide_by_pet_min) for one in found] == [("B", 30), ("D", 70), ("C", 50)]
    assert not any(one.now for one in found)
    assert first_decide_by(found) == (30, "when B is projected to begin")


def test_what_is_due_within_the_lead_time_is_for_now():
    """At 0:15 B is due at 0:30, which is within 20 min; D can wait, and the part for now defers B alone."""
    found, change = parts(TABLES, Change(defer=("B", "D")), "0:00 clock\n0:00 start A", "0:15")
    assert [one.now for one in found] == [True, False]
    assert part_for_now(change, found) == Change(defer=("B",))


def test_work_in_hand_is_trimmed_until_its_new_length_and_broken_off_now():
    """A has worked 10 of 30 min: a trim to 25 closes at 0:25; breaking it off is decided now. An extension closes at its end."""
    log = "0:00 clock\n0:00 start A"
    assert [one.decide_by_pet_min for one in parts(TABLES, Change(trim={"A": 25.0}), log, "0:10")[0]] == [25]
    assert [one.decide_by_pet_min for one in parts(TABLES, Change(break_off=("A",)), log, "0:10")[0]] == [10]
    assert [one.decide_by_pet_min for one in parts(TABLES, Change(extend={"A": 40.0}), log, "0:10")[0]] == [30]


def test_what_goes_along_with_the_part_for_now_is_for_now():
    """The group of B and D is decided as one, though D is due much later."""
    tables = (
        task("B", "EV1", 0, 20, together="dish") + task("C", "EV1", 20, 40) + task("D", "EV1", 60, 20, together="dish") + HOME
    )
    found, change = parts(tables, Change(defer=("B",)))
    assert [(one.part.name, one.now) for one in found] == [("B", True), ("D", True)]
    assert part_for_now(change, found) == Change(defer=("B", "D"))


def test_an_option_is_open_until_what_it_leaves_out_begins():
    """LONG is projected to begin at 1:00. Giving nothing up has no such time."""
    found, _ = parts(ENDING, Change(choose={"ending": "short"}))
    assert [(one.part.name, one.decide_by_pet_min) for one in found] == [("ending", 60)]
    assert first_decide_by([]) == (None, NO_TIME)


def test_with_draws_the_median_start_counts():
    """Without draws B is projected to begin at 0:30; with them it is the median of the starts that were drawn."""
    tables = task("A", "EV1", 0, [28, 30, 70]) + task("B", "EV1", 30, 20) + HOME
    record = reconcile(plan_of(LANES.replace("limit = 100\n", LEAD) + tables), log_of("0:00 clock"), parse_instant(at("0:00")))
    expected = expect(record, project(record), draws=2000)
    median = sorted(expected.starts[expected.tasks.index("B")])[999:1001]
    plain, drawn = (parts(tables, Change(defer=("B",)), draws=draws)[0][0].decide_by_pet_min for draws in (0, 2000))
    assert plain == 30
    assert drawn == pytest.approx(sum(median) / 2) != plain


def test_a_choice_carries_its_items_and_the_part_for_now():
    """The optimum on WORK gives up C, projected to begin at 1:10: at 0:00 all of it can wait, at 0:55 none can."""
    for pet, log, now in (("0:00", "0:00 clock", False), ("0:55", "0:00 clock\n0:00 start A\n0:40 done A\n0:40 start B", True)):
        record = reconcile(plan_of(LANES + WORK), log_of(log), parse_instant(at(pet)))
        choice = advice_of(advise(record, basis="plan-pace", choices=1)).choices[0]
        assert [(item.task, item.how, item.now) for item in choice.items] == [("C", "defer", now)]
        assert choice.items[0].decide_by_pet_min == choice.decide_by_pet_min == pytest.approx(70)
        decision = choice.for_now().events("C goes.")[0]
        assert decision.get("defer") == (["C"] if now else None)
