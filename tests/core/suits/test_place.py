"""Where a lane is, and how far back that is."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.record.fold import reconcile
from dashboard.core.record.legs import whereabouts_of
from dashboard.core.suits.place import Places
from tests.core.suits.suited import FAR, IN_WORK, LEGS, ON_LEG, SUITED, THERE
from tests.scenario import at, follow_at, log_of, plan_of, task


@pytest.mark.parametrize(
    ("log", "pet", "worksite", "going_to", "back"),
    [
        (IN_WORK, "0:30", "airlock", None, 0.0),
        (ON_LEG, "1:00", "airlock", "far", 0.0),
        (ON_LEG, "1:15", "airlock", "far", 20.0),
        (ON_LEG, "1:45", "airlock", "far", 40.0),
        (ON_LEG + "\n1:15 hold OUT", "1:40", "airlock", "far", 20.0),
        (ON_LEG + "\n1:15 estimate OUT remaining=45", "1:15", "airlock", "far", 10.0),
        (ON_LEG + "\n1:28 done OUT", "1:28", "far", None, 40.0),
        (THERE + "\n3:10 done B\n3:10 start HOME", "3:20", "far", "airlock", 30.0),
    ],
    ids=["at the airlock", "leg begins", "half way", "overdue", "on hold", "by the estimate", "arrived", "on the way home"],
)
def test_an_arrival_counts_when_the_leg_is_done_and_the_way_back_is_interpolated_on_it(log, pet, worksite, going_to, back):
    """40 min from the far site, nothing from the airlock."""
    lane = follow_at(plan_of(SUITED + FAR + LEGS), log, pet).lanes["EV1"]
    assert (lane.worksite, lane.going_to, lane.back_min) == (worksite, going_to, pytest.approx(back))


def test_a_leg_that_was_broken_off_leaves_the_lane_between_its_ends_with_the_longer_way():
    """40 min, whichever of the two it is nearer to."""
    legs = LEGS.replace('leg = "far"', 'leg = "far"\ncloseout = 2')
    lane = follow_at(plan_of(SUITED + FAR + legs), ON_LEG + "\n1:05 break_off OUT", "1:10").lanes["EV1"]
    assert (lane.worksite, lane.going_to, lane.back_min) == ("airlock", "far", 40.0)


def test_a_place_that_nothing_says_is_not_known():
    """No worksite, no minutes; and none is made up."""
    lane = follow_at(plan_of(SUITED + task("A", "EV1", 0, 60)), IN_WORK, "0:10").lanes["EV1"]
    assert (lane.worksite, lane.going_to, lane.back_min) == (None, None, None)


def test_work_that_was_deferred_says_nothing_about_where_the_lane_is():
    """C at the far site was deferred before anybody went there: EV1 is still at the airlock."""
    plan = plan_of(SUITED + FAR + LEGS + task("C", "EV1", 200, 20, worksite="far"))
    assert follow_at(plan, IN_WORK + "\n0:20 defer C", "0:30").lanes["EV1"].worksite == "airlock"


@pytest.mark.parametrize(
    "log",
    [
        IN_WORK, ON_LEG, THERE, ON_LEG + "\n1:10 hold OUT", ON_LEG + "\n1:28 done OUT", ON_LEG + "\n1:20 break_off OUT",
        ON_LEG + "\n1:20 start B", ON_LEG + "\n1:20 done B", THERE + "\n3:10 done B\n3:10 start HOME",
    ],
)  # fmt: skip
def test_the_way_back_starts_where_the_rules_of_legs_have_the_lane(log: str):
    """One rule says where a lane is, also where a leg was never logged as done."""
    pet = "3:20"
    plan = plan_of(SUITED + FAR + LEGS.replace('leg = "far"', 'leg = "far"\ncloseout = 2'))
    record = reconcile(plan, log_of(log), parse_instant(at(pet)))
    place, here = Places(record, {}).at("EV1", record.pet_min), whereabouts_of(record, "EV1")
    assert (place.worksite, place.going_to) == (here.worksite, here.towards)
