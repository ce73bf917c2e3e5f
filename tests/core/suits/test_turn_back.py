"""The turn-back time, by hand."""

from __future__ import annotations

import json

import pytest

from dashboard.core.suits.constants import WORKLOAD_W
from tests.core.suits.suited import BOTH, FAR, LEGS, SUITED, THERE
from tests.scenario import follow_at, plan_of, task

BOOM = '[[worksite]]\nid = "boom"\nreturn = 14\n'


def turn_back(work, log, pet, suits="", lane="EV1"):
    return follow_at(plan_of(SUITED + suits + BOOM + work), log, pet).lanes[lane].turn_back_pet_min


IN_WORK = "0:00 clock\n0:00 start A"
# A is in hand whenever the lane turns back: it cannot be over by then, and is broken off.
STUCK = IN_WORK + "\n1:00 estimate A remaining=600"


def test_turn_back_by_hand():
    """In by 6:30, 14 min from the boom, 30 min of required work at the airlock: 5:46, since A is over at 1:30."""
    work = (
        task("A", "EV1", 0, 90, worksite="boom", closeout=6) + task("B", "EV1", 90, 60)
        + task("IN", "EV1 EV2", 150, 30, required=True)
    )
    assert turn_back(work, IN_WORK, "1:00") == 390 - 14 - 30
    assert turn_back(work, STUCK, "1:00") == 390 - 14 - 30 - 6  # not over by then: 6 min to leave it safe
    assert turn_back(work, f"{IN_WORK}\n5:30 estimate A remaining=16", "5:30") == 390 - 14 - 30  # over just then
    assert turn_back(work, f"{IN_WORK}\n5:30 estimate A remaining=19", "5:30") == 390 - 14 - 30 - 6  # 3 min late: left
    firm = work.replace("closeout = 6\n", "")
    assert turn_back(firm, IN_WORK, "1:00") == 390 - 14 - 30
    late = f"{IN_WORK}\n5:30 estimate A remaining=19"  # may not be broken off, over at 5:49
    assert turn_back(firm, late, "5:30") == 330 - 3  # in by 6:33, whenever it turns back: 3 min too late already


def test_work_in_hand_that_is_over_by_then_does_not_count():
    """In by 2:50, 20 min of way home: 2:30, though EV2's work may not be broken off, for it ends at 1:00."""
    plan = SUITED.replace('"7:00"', '"3:00"').replace("reserve = 30", "reserve = 10")
    work = task("A", "EV1", 0, 30, closeout=5) + task("B", "EV2", 0, 60)
    home = task("HOME", "EV1 EV2", 90, 20, required=True, activity="way home", not_before="1:30")
    lanes = follow_at(plan_of(plan + work + home), IN_WORK + "\n0:00 start B", "0:10").lanes
    assert [lanes[name].turn_back_pet_min for name in ("EV1", "EV2")] == [150, 150]


def test_required_work_on_the_way_counts_until_the_projection_has_it_over():
    """R ends at 2:30 by the plan; with 4 h to go of what is before it, it still lies ahead and is done after turning back."""
    work = OUT + task("R", "EV1", 90, 60, required=True) + task("C", "EV1", 150, 30)
    work += task("IN", "EV1", 180, 30, required=True)
    assert turn_back(work, IN_WORK, "1:00") == 390 - 14 - 30
    assert turn_back(work, f"{IN_WORK}\n1:00 estimate A remaining=300", "1:00") == 390 - 14 - 60 - 30 - 6
    # begun at 4:50, it is under way until 5:50: in by 6:34 then, so not later than before it is begun
    assert turn_back(work, f"{IN_WORK}\n1:00 estimate A remaining=230", "1:00") == 390 - 14 - 60 - 30 - 6


def test_what_is_not_begun_and_may_be_dropped_is_dropped():
    """B would be in work from 1:30 to 6:50 and may not be broken off; it need not be begun. Once begun it counts."""
    work = OUT + task("B", "EV1", 90, 320) + task("IN", "EV1", 410, 30, required=True)
    assert turn_back(work, IN_WORK, "1:00") == 390 - 14 - 30
    begun = turn_back(work, f"{IN_WORK}\n1:30 done A\n1:30 start B", "1:30")
    assert begun == 90 - (410 + 14 + 30 - 390)


AIRLOCK = '[[worksite]]\nid = "airlock"\nreturn = 0\n[[worksite]]\nid = "far"\nreturn = 25\n'
OUT = task("A", "EV1", 0, 90, worksite="boom", closeout=6)


def way_home(minutes, start=90, **more):
    return task("HOME", "EV1", start, minutes, required=True, worksite="airlock", **more) + AIRLOCK


@pytest.mark.parametrize(
    ("home", "least"),
    [
        (way_home([8, 10, 14]), 6 + 14),  # the way itself, briefed shorter than the worksite says: the longer counts
        (way_home([12, 18, 25]), 6 + 18),  # the way itself, briefed longer: counted once, at its own length
        (way_home([15, 18, 25], start=110, activity="way home"), 6 + 18),  # the plan says that it is
        (way_home([15, 18, 25]), 6 + 14 + 18),  # cannot be the way alone: work at the airlock, the way besides
        (way_home([8, 10, 14], start=105), 6 + 14 + 10),  # the plan leaves time for the way before it
        (way_home([8, 10, 14]).replace('worksite = "airlock"\n', ""), 6 + 14 + 10),  # nothing says that it is the way
        (way_home([8, 10, 14]).replace("required = true\n", ""), 6 + 14),  # may be dropped; the way remains
    ],
    ids=["shorter", "longer", "named", "work there", "a gap before it", "no worksite", "not required"],
)
def test_the_way_home_is_counted_once_where_the_plan_has_it_as_a_task(home, least):
    """And never less than the worksite's own minutes, nor less than the task."""
    assert turn_back(OUT + home, STUCK, "1:00") == 390 - least


def test_the_way_home_is_counted_once_only():
    """A second short task at the airlock is work there."""
    work = OUT + way_home([8, 10, 14]) + task("IN", "EV1", 100, [8, 10, 14], required=True, worksite="airlock")
    assert turn_back(work, STUCK, "1:00") == 390 - 6 - 14 - 10


def test_once_on_the_way_home_what_remains_of_it_counts():
    """The task in hand is at the airlock: no way besides."""
    log = "0:00 clock\n0:00 start A\n1:30 done A\n1:30 start HOME"
    assert turn_back(OUT + way_home([8, 10, 14]), log, "1:33") == 390 - 7


def test_a_required_task_farther_out_makes_the_way_that_much_longer():
    """25 min from the far worksite, not 14 from where the lane is now."""
    work = OUT + AIRLOCK + task("FAR", "EV1", 90, 20, required=True, worksite="far")
    assert turn_back(work, STUCK, "1:00") == 390 - 6 - 25 - 20


def test_a_joint_task_waits_for_the_lane_that_is_in_last():
    """EV1 needs 6 + 14 min; EV2 has 300 min in hand that may not be broken off. Both do 30 min of work there."""
    work = OUT + task("B", "EV2", 0, 360) + task("IN", "EV1 EV2", 400, 30, required=True)
    log = f"{STUCK}\n0:00 start B"
    assert turn_back(work, log, "1:00") == 390 - 30 - 20  # B is over at 6:00, and EV1 has 20 min by then
    assert turn_back(work, log, "1:00", lane="EV2") == 390 - 30 - 20
    longer = f"{log}\n1:00 estimate B remaining=310"  # over at 6:10: all are in 10 min late, even turned back now
    assert turn_back(work, longer, "1:00") == 60 - 10
    assert turn_back(work, longer, "1:00", lane="EV2") == 60 - 10


def test_a_required_task_waits_for_the_required_task_it_follows():
    """With its lag: IN of EV2, 5 min after HOME of EV1."""
    work = OUT + way_home([8, 10, 14]) + task("IN", "EV2", 120, 12, required=True, follows=[{"task": "HOME", "lag": 5}])
    assert turn_back(work, STUCK, "1:00", lane="EV2") == 390 - 6 - 14 - 5 - 12


def test_the_close_out_of_a_task_just_broken_off_is_finished_first():
    """Broken off at 5:42 with 6 min of close-out: to 5:48, 2 min too late for the 44 min that follow; long before, not."""
    work = OUT + task("IN", "EV1", 150, 30, required=True)
    assert turn_back(work, f"{IN_WORK}\n5:42 break_off A", "5:43") == 343 - 2
    assert turn_back(work, f"{IN_WORK}\n1:00 break_off A", "1:02") == 390 - 14 - 30


def test_turn_back_is_earlier_when_a_suit_of_the_pair_ends_earlier():
    """Water of suit A to 6:00 at 0.6 an hour. With suit B at 2.0 an hour to 1:48, EV1 has to turn back for EV2 as well."""
    work = task("A", "EV1", 0, 90, worksite="boom", closeout=6) + task("IN", "EV1 EV2", 150, 30, required=True)
    assert turn_back(work, STUCK, "1:00", BOTH) == pytest.approx(360 - 14 - 6 - 30)
    thirsty_b = BOTH.replace("base = 0.5\n", "base = 2.0\n")
    for lane in ("EV1", "EV2"):
        assert turn_back(work, STUCK, "1:00", thirsty_b, lane) == pytest.approx(108 - 14 - 6 - 30)


def by_heat(loaded, reserve=0.0):
    """A suit whose only use is 0.001 kg an hour for each watt."""
    return f'[[suit]]\nid = "A"\n[suit.water]\nloaded = {loaded}\nreserve = {reserve}\nbase = 0\nper_watt = 0.001\n'


@pytest.mark.parametrize(("load", "watts"), [(None, WORKLOAD_W["moderate"]), (400, 400.0), ("heavy", WORKLOAD_W["heavy"])])
def test_the_way_back_uses_what_its_own_workload_says(load, watts):
    """An hour back from the site. 1.9 kg for work at 300 W and for the way at its own rate: consumables count on arrival."""
    site = f'[[worksite]]\nid = "boom"\nreturn = 60\n{f"return_workload = {json.dumps(load)}" if load else ""}\n'
    work = task("A", "EV1", 0, 600, worksite="boom", closeout=0, workload=300)
    lanes = follow_at(plan_of(SUITED + by_heat(1.9) + site + work), IN_WORK, "1:00").lanes
    assert lanes["EV1"].turn_back_pet_min == pytest.approx(60 * (1.9 - 0.001 * watts) / 0.3)
    assert (lanes["EV1"].turn_back_set_by, lanes["EV1"].back_min) == ("suit A water", 60)


def test_an_assumed_rate_and_a_reserve_count_as_everywhere():
    """The reserve is kept on arrival; a battery whose rate is assumed sets nothing."""
    site = '[[worksite]]\nid = "boom"\nreturn = 60\nreturn_workload = 400\n'
    work = task("A", "EV1", 0, 600, worksite="boom", closeout=0, workload=300)
    suits = by_heat(2.0, 0.3) + "[suit.battery]\nloaded = 60\n"
    lane = follow_at(plan_of(SUITED + suits + site + work), IN_WORK, "1:00").lanes["EV1"]
    assert lane.turn_back_pet_min == pytest.approx(60 * (2.0 - 0.3 - 0.4) / 0.3)
    assert lane.turn_back_set_by == "suit A water"


def test_the_projection_takes_the_lane_farther_out_before_it_turns_back():
    """At the airlock until 5:40, then 25 min out and work there from 6:05: turned back by 5:52:30, half way, 12:30 from home."""
    limit = SUITED.replace('"7:00"', '"6:05"').replace("reserve = 30", "reserve = 0")
    sites = '[[worksite]]\nid = "airlock"\nreturn = 0\n[[worksite]]\nid = "far"\nreturn = 25\n'
    work = (
        task("A", "EV1", 0, 340, worksite="airlock", closeout=0) + task("L", "EV1", 340, 25, leg="far")
        + task("B", "EV1", 365, 30, worksite="far")
    )
    lane = follow_at(plan_of(limit + sites + work), IN_WORK, "1:00").lanes["EV1"]
    assert lane.turn_back_pet_min == pytest.approx(352.5)


NEAR_AND_FAR = '[[worksite]]\nid = "near"\nreturn = 25\n[[worksite]]\nid = "far"\nreturn = 60\n'


@pytest.mark.parametrize(("left", "to", "back_min"), [("far", "near", 60), ("near", "far", 18 + 60)])
def test_a_leg_in_hand_is_finished_or_turned_round_on_and_never_both(left: str, to: str, back_min: float):
    """In by 6:30; at 5:40 a leg of 18 min begins. Towards home 60 min on foot are longer than the leg and 25; outwards it is
    finished, and 60 min follow. So many minutes are missing."""
    work = task("A", "EV1", 0, 340, worksite=left) + task("L", "EV1", 340, 18, leg=to)
    log = IN_WORK + "\n5:40 done A\n5:40 start L"
    assert turn_back(work, log, "5:40", NEAR_AND_FAR) == pytest.approx(390 - back_min)


def test_a_leg_that_is_the_way_home_is_counted_once():
    """In by 6:30, 40 min back; the leg home takes as long as the worksite says. With both it would be 5:10."""
    log = THERE + "\n1:31 estimate B remaining=600"
    assert turn_back(LEGS + FAR, log, "1:40") == 390 - 40 - 5


def test_leave_by_is_the_earlier_of_the_given_time_and_the_one_that_the_way_back_gives():
    """In by 6:30 and 40 min back: 5:50; the plan says 5:10 and, in the second case, 6:00."""
    given = follow_at(plan_of(SUITED + FAR + LEGS), THERE, "1:40")
    assert given.lanes["EV1"].leave_by_pet_min == 310
    assert (given.worksites["far"].leave_by_pet_min, given.worksites["far"].leave_by_set_by) == (310, "the plan")
    later = follow_at(plan_of(SUITED + FAR.replace("5:10", "6:00") + LEGS), THERE, "1:40")
    assert later.lanes["EV1"].leave_by_pet_min == 350
    assert later.worksites["far"].leave_by_set_by == "the way back, by the planned limit less reserve"
    assert (later.worksites["far"].last_task, list(later.worksites)) == ("B", ["far"])
    assert follow_at(plan_of(SUITED + FAR + LEGS), IN_WORK, "0:10").lanes["EV1"].leave_by_pet_min is None


def test_a_projected_finish_past_the_leave_by_time_is_an_alert_that_offers_the_trim():
    """B, 100 min long, may be trimmed to 20 min: until 2:50 it has 80. No trim where it has more than planned."""
    late = THERE + "\n1:40 estimate B remaining=300"
    leave = "Leave far by then: defer or break off what is left there."

    def raised(log, pet, legs=LEGS, leave_by="2:50"):
        plan = plan_of(SUITED + FAR.replace("5:10", leave_by) + legs)
        return [one for one in follow_at(plan, log, pet).alerts if one.id == "leave-by-far"]

    assert raised(THERE, "1:40", leave_by="5:10") == []
    (alert,) = raised(late, "1:40")
    assert "B is projected to end" in alert.what and "left far, PET 2:50, set by the plan" in alert.what
    assert (alert.by_pet_min, alert.do) == (170, "Trim B to 1 h 20 min, so that far is left in time.")
    (firm,) = raised(late, "1:40", LEGS.replace("shortest = 20\n", ""))
    assert firm.do == leave
    (longer,) = raised(late, "1:40", leave_by="5:10")
    assert (longer.by_pet_min, longer.do) == (310, leave)
    (past,) = raised(THERE + "\n2:51 estimate B remaining=30", "2:52")
    assert past.do == "Leave far now."


def test_there_is_no_turn_back_for_the_arm_or_once_the_lane_is_in():
    """None, not a number."""
    work = task("A", "EV1", 0, 30)
    assert turn_back(work, "0:00 clock\n0:00 start A\n0:30 done A", "0:31") is None
    assert turn_back(work, "0:00 clock\n0:00 start A\n0:30 end", "0:31") is None
    arm = plan_of(task("A", "EV1", 0, 30) + task("R", "ARM", 0, 30))
    assert follow_at(arm, "0:00 clock\n0:00 start R", "0:10").lanes["ARM"].turn_back_pet_min is None
