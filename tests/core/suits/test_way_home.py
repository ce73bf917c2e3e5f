"""The way home: the last tasks of a lane that are required or at a worksite with no way back."""

from __future__ import annotations

from dashboard.core.base.times import parse_instant
from dashboard.core.record.fold import reconcile
from dashboard.core.suits.way_home import tasks_of_way_home, way_home
from tests.scenario import at, log_of, plan_of, task

AIRLOCK = '[[worksite]]\nid = "airlock"\nreturn = 0\n[[worksite]]\nid = "boom"\nreturn = 14\n'
WORK = task("A", "EV1", 0, 30) + task("R", "EV1", 30, 10, required=True) + task("B", "EV1", 40, 20, worksite="boom")


def record_of(text, log="0:00 clock", pet="0:00"):
    return reconcile(plan_of(text + AIRLOCK), log_of(log), parse_instant(at(pet)))


def test_it_is_the_unbroken_tail_of_required_tasks_and_tasks_at_the_airlock():
    """R is required too, but work that may be given up stands after it; the arm's parking is nobody's way home."""
    home = task("C", "EV1", 60, 5, worksite="airlock") + task("IN", "EV1 EV2", 65, 20, required=True)
    record = record_of(WORK + home + task("P", "ARM", 90, 10, required=True))
    assert tasks_of_way_home(record) == {"C", "IN"}
    assert record.order[way_home(record, record.order, ("EV1",))] == "C"
    assert record.order[way_home(record, record.order, ("EV2",))] == "IN"


def test_a_lane_without_a_way_home_has_it_behind_its_last_task():
    """Its place is the end of the order."""
    record = record_of(WORK)
    assert tasks_of_way_home(record) == set()
    assert way_home(record, record.order, ("EV1",)) == len(record.order)


def test_what_has_begun_is_no_part_of_it():
    """Once C is begun only IN is left."""
    home = task("C", "EV1", 60, 5, worksite="airlock") + task("IN", "EV1", 65, 20, required=True)
    assert tasks_of_way_home(record_of(WORK + home, "0:00 clock\n0:00 start C", "0:01")) == {"IN"}


def test_a_get_ahead_among_the_last_tasks_does_not_end_it():
    """And is no part of it; nor is a task that was deferred."""
    home = task("C", "EV1", 60, 5, required=True) + task("G", "EV1", 62, 5, get_ahead=True) + task("D", "EV1", 64, 5)
    record = record_of(WORK + home + task("IN", "EV1", 65, 20, required=True), "0:00 clock\n0:00 defer D", "0:01")
    assert tasks_of_way_home(record) == {"C", "IN"}
