"""A change applied to a record, what goes along with it, and the value that it loses."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.change import closed, value_left, value_lost, with_change
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from dashboard.core.record.lifecycle import BROKEN_OFF, DEFERRED, NOT_STARTED
from dashboard.core.record.record import Record
from tests.core.sorties import PLAN
from tests.scenario import at, log_of, plan_of, task

BEGUN = "0:00 clock\n0:00 start A"


def record_at(pet: str, log: str = "0:00 clock") -> Record:
    return reconcile(PLAN, log_of(log), parse_instant(at(pet)))


def test_every_part_of_a_change_is_applied_to_a_copy() -> None:
    """Deferred, cut, let run longer, handed over and chosen in the copy; the record itself stays as it was."""
    record = record_at("0:00")
    change = Change(defer=("D",), trim={"A": 12}, extend={"B": 45}, move={"E": "EV1"}, choose={"ending": "long"})
    changed = with_change(record, change)
    assert changed.runs["D"].state == DEFERRED
    assert (changed.runs["A"].planned_min, changed.runs["B"].planned_min) == (12, 45)
    assert changed.runs["B"].extended and not changed.runs["A"].extended
    assert changed.runs["E"].lanes == ("EV1",)
    assert changed.in_plan("Q") and not changed.in_plan("P")
    assert record.runs["D"].state == NOT_STARTED and record.runs["E"].lanes == ("EV2",)
    assert (record.runs["A"].planned_min, record.runs["B"].planned_min) == (30, 30)
    assert record.in_plan("P") and record.chosen == {}


def test_an_extend_replaces_a_standing_estimate() -> None:
    """10 min of A are done and 50 were estimated to remain: with a whole length of 40, 30 remain."""
    record = record_at("0:10", BEGUN + "\n0:10 estimate A remaining=50")
    assert record.runs["A"].remaining_min(10) == 50
    assert with_change(record, Change(extend={"A": 40})).runs["A"].remaining_min(10) == 30


def test_work_that_is_broken_off_is_over_now() -> None:
    """At PET 0:10 A has worked for 10 min; D, which has not begun, cannot be broken off."""
    changed = with_change(record_at("0:10", BEGUN), Change(break_off=("A", "D")))
    assert changed.runs["A"].state == BROKEN_OFF
    assert (changed.runs["A"].finish_pet_min, changed.runs["A"].worked_min(99)) == (10, 10)
    assert changed.runs["D"].state == NOT_STARTED


def test_a_new_order_rearranges_only_the_tasks_it_names() -> None:
    """C and A change places; all others keep theirs."""
    record = record_at("0:00")
    order = with_change(record, Change(order=("C", "A"))).order
    swapped = {"A": "C", "C": "A"}
    assert order == [swapped.get(task_id, task_id) for task_id in record.order]


def test_what_comes_after_a_deferred_task_goes_along() -> None:
    """B comes after A, and C after B."""
    assert closed(record_at("0:00"), Change(defer=("A",))).defer == ("A", "B", "C")
    assert closed(record_at("0:00"), Change(defer=("C",))).defer == ("C",)


def test_what_comes_after_broken_off_work_goes_along() -> None:
    """A is broken off: B and C, which come after it, are deferred."""
    made = closed(record_at("0:10", BEGUN), Change(break_off=("A",)))
    assert (made.break_off, made.defer) == (("A",), ("B", "C"))


def test_a_task_that_the_option_leaves_out_is_not_given_up_as_well() -> None:
    """With the long ending P is out of the plan anyway. Without that option it is given up."""
    assert closed(record_at("0:00"), Change(defer=("P",), choose={"ending": "long"})) == Change(choose={"ending": "long"})
    assert closed(record_at("0:00"), Change(defer=("P",))).defer == ("P",)


def test_a_get_ahead_that_has_not_begun_neither_goes_along_nor_loses_value() -> None:
    """G comes after A, but it is in no plan yet. Once begun it is worth what it says."""
    plan = plan_of(task("A", "EV1", 0, 30) + task("G", "EV2", None, 15, get_ahead=True, after=["A"], value=4.0))
    record = reconcile(plan, log_of("0:00 clock"), parse_instant(at("0:00")))
    assert closed(record, Change(defer=("A",))).defer == ("A",)
    assert value_left(record.runs["G"]) == 0
    begun = reconcile(plan, log_of("0:00 clock\n0:00 start A\n0:30 done A\n0:30 start G"), parse_instant(at("0:35")))
    assert value_left(begun.runs["G"]) == 4


def test_value_is_lost_by_class_and_by_the_share_that_is_cut() -> None:
    """Deferred: all of the value. Cut from 40 to 30 min: a quarter. An extend and a hand-over lose nothing."""
    plan = plan_of(
        task("A", "EV1", 0, 30, priority=3, value=2.0) + task("B", "EV1", 30, 40, priority=1, value=4.0)
        + task("C", "EV1", 70, 10, priority=3, value=0.5) + task("D", "EV2", 0, 20, can_move_to=["EV1"])
    )
    record = reconcile(plan, log_of("0:00 clock"), parse_instant(at("0:00")))
    assert value_lost(record, Change(defer=("A", "C"), trim={"B": 30})) == {1: 1.0, 3: 2.5}
    assert value_lost(record, Change(extend={"B": 50}, move={"D": "EV1"})) == {}


def test_before_its_shortest_useful_length_work_that_is_broken_off_is_lost_whole() -> None:
    """Useful from 20 of 30 min up: at 0:10 nothing is of use yet. At 0:20 it is, and a third is cut."""
    plan = plan_of(task("A", "EV1", 0, 30, shortest=20, closeout=1, value=6.0))
    log = log_of("0:00 clock\n0:00 start A")
    at_10, at_20 = (reconcile(plan, log, parse_instant(at(pet))) for pet in ("0:10", "0:20"))
    assert value_lost(at_10, Change(break_off=("A",))) == {2: 6.0}
    assert value_lost(at_20, Change(break_off=("A",))) == {2: pytest.approx(2.0)}


def test_what_is_behind_is_not_lost_when_work_is_broken_off() -> None:
    """A has worked for 10 of 30 min: two thirds are cut. Let grow to 60 min by an estimate, it is five sixths."""
    broken = Change(break_off=("A",))
    assert value_lost(record_at("0:10", BEGUN), broken) == {2: pytest.approx(2 / 3)}
    assert value_lost(record_at("0:10", BEGUN + "\n0:10 estimate A remaining=50"), broken) == {2: pytest.approx(5 / 6)}
