"""Legs: they go with the work at their end, and the next one starts from where the lanes are."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.record.fold import reconcile
from dashboard.core.record.legs import Whereabouts, ways_of, whereabouts_of
from tests.scenario import at, log_of, plan_of, task

SITES = "".join(
    f'[[worksite]]\nid = "{name}"\nreturn = {back}\n' for name, back in (("lock", 0), ("mast", 12), ("boom", 20))
)
ROUTE = '[[route]]\nfrom = "boom"\nto = "lock"\nduration = 17\n'
TASKS = (
    task("OUT", "EV1 EV2", 0, 10, worksite="lock")
    + task("TO-MAST", "EV1 EV2", 10, 10, leg="mast")
    + task("MAST-1", "EV1", 20, 30, worksite="mast")
    + task("MAST-2", "EV2", 20, 20, worksite="mast")
    + task("TO-BOOM", "EV1 EV2", 50, 6, leg="boom")
    + task("BOOM", "EV1 EV2", 56, 40, worksite="boom", after=["TO-BOOM"])
    + task("HOME", "EV1 EV2", 96, 14, leg="lock")
    + task("IN", "EV1 EV2", 110, 15, worksite="lock", required=True, after=["HOME"])
)


def record_of(log="0:00 clock", pet="0:05", more="", tasks=TASKS):
    return reconcile(plan_of(SITES + more + tasks), log_of(log), parse_instant(at(pet)))


def gone(log, **given):
    """What is out of the plan of record, and why."""
    return {task_id: out.why for task_id, out in record_of(log, **given).out_because.items()}


def minutes(log, **given):
    """Likely minutes of the legs that start from elsewhere than briefed."""
    record = record_of(log, **given)
    return {leg: duration.likely for leg, duration in ways_of(record, record.out_because).durations.items()}


def test_a_leg_stays_while_anything_is_left_at_its_end():
    """One of two tasks at the mast given up; the other lane still needs the leg."""
    assert gone("0:00 clock\n0:01 defer MAST-1") == {"MAST-1": "deferred"}


def test_a_leg_goes_with_the_last_work_at_its_end_and_the_next_one_starts_from_where_the_lanes_are():
    """No route: from the airlock to the boom takes the longer of the two legs."""
    log = "0:00 clock\n0:01 defer MAST-1,MAST-2"
    assert gone(log)["TO-MAST"] == "nothing is left to do at mast"
    assert minutes(log) == {"TO-BOOM": 10}


def test_with_a_route_the_next_leg_takes_the_route():
    """Boom given up: from the mast home there is no route; mast given up: from the airlock to the boom there is one."""
    assert minutes("0:00 clock\n0:01 defer MAST-1,MAST-2", more=ROUTE) == {"TO-BOOM": 17}
    assert minutes("0:00 clock\n0:01 defer BOOM", more=ROUTE) == {"HOME": 14}


def test_with_nothing_left_outside_all_legs_go_and_the_way_in_stays():
    """The lanes never leave the airlock; what comes after the leg home is not given up with it."""
    log = "0:00 clock\n0:01 defer MAST-1,MAST-2,BOOM"
    assert {leg: gone(log)[leg] for leg in ("TO-MAST", "TO-BOOM", "HOME")} == {
        "TO-MAST": "nothing is left to do at mast", "TO-BOOM": "nothing is left to do at boom",
        "HOME": "EV1 and EV2 would be at lock already",
    }
    assert record_of(log).in_plan("IN")
    assert record_of(log + "\n0:10 start OUT\n0:20 done OUT\n0:20 start IN", "0:25").discrepancies == []


def test_a_required_leg_to_where_the_lanes_are_stays_and_takes_no_time():
    """It is never given up."""
    required = TASKS.replace('leg = "lock"', 'leg = "lock"\nrequired = true')
    log = "0:00 clock\n0:01 defer MAST-1,MAST-2,BOOM"
    assert "HOME" not in gone(log, tasks=required)
    assert minutes(log, tasks=required) == {"HOME": 0}


def test_work_goes_whose_leg_is_given_up_unless_a_route_leads_there():
    """From the mast to the boom there is no route; given one, the work stays and the way is taken before it."""
    log = "0:00 clock\n0:01 defer TO-BOOM"
    loose = TASKS.replace('after = ["TO-BOOM"]', "")
    assert gone(log, tasks=loose)["BOOM"] == "no way to boom without TO-BOOM"
    to_boom = '[[route]]\nfrom = "mast"\nto = "boom"\nduration = 9\n'
    record = record_of(log, more=to_boom, tasks=loose)
    assert record.in_plan("BOOM")
    assert {t: d.likely for t, d in ways_of(record, record.out_because).to_work.items()} == {"BOOM": 9}


def test_work_that_the_room_reinstates_stays_without_its_leg():
    """The room knows a way that the plan does not."""
    log = "0:00 clock\n0:01 defer TO-BOOM\n0:02 reinstate BOOM"
    assert record_of(log, "0:03", tasks=TASKS.replace('after = ["TO-BOOM"]', "")).in_plan("BOOM")


def test_work_logged_at_the_end_of_a_leg_that_was_not_logged_takes_the_leg_out():
    """The crew is at the mast, so the leg there is behind them."""
    log = "0:00 clock\n0:00 start OUT\n0:10 done OUT\n0:20 start MAST-1\n0:20 start MAST-2"
    assert gone(log, pet="0:30")["TO-MAST"] == "EV1 and EV2 would be at mast already"


def test_a_plan_without_legs_is_left_alone():
    """Its tasks hold the ways between them, whatever routes are given."""
    plain = "".join(line + "\n" for line in TASKS.splitlines() if not line.startswith("leg"))
    log = "0:00 clock\n0:01 defer MAST-1,MAST-2"
    assert set(gone(log, more=ROUTE, tasks=plain)) == {"MAST-1", "MAST-2"}
    assert minutes(log, more=ROUTE, tasks=plain) == {}


@pytest.mark.parametrize(
    ("log", "pet", "place"),
    [
        ("0:00 clock", "0:05", Whereabouts("lock")),
        ("0:00 clock\n0:00 start OUT\n0:10 done OUT\n0:10 start TO-MAST", "0:15", Whereabouts("lock", "mast", "TO-MAST")),
        ("0:00 clock\n0:10 start TO-MAST\n0:20 done TO-MAST", "0:25", Whereabouts("mast")),
        ("0:00 clock\n0:10 start TO-MAST\n0:20 done TO-MAST\n0:21 start MAST-1\n0:40 done MAST-1\n0:41 start TO-BOOM", "0:44",
         Whereabouts("mast", "boom", "TO-BOOM")),
        ("0:00 clock\n0:20 done MAST-1", "0:25", Whereabouts("mast")),
        ("0:00 clock\n0:10 start TO-MAST\n0:30 start MAST-1", "0:35", Whereabouts("mast")),
        ("0:00 clock\n0:10 start TO-MAST\n0:15 hold TO-MAST", "0:20", Whereabouts("lock", "mast", "TO-MAST")),
        ("0:00 clock\n0:10 start TO-MAST\n0:15 break_off TO-MAST", "0:20", Whereabouts("lock", "mast", "TO-MAST")),
    ],
)
def test_a_lane_is_at_the_worksite_of_its_last_begun_task_and_on_a_leg_between_the_two(log, pet, place):
    """Before anything is begun it is at the airlock."""
    assert whereabouts_of(record_of(log, pet), "EV1") == place


def test_a_leg_that_is_a_get_ahead_is_judged_only_once_it_is_begun():
    """Work is briefed behind it; the plan is followed all the same."""
    briefed = task("TO-BOOM", "EV1 EV2", 50, 6, leg="boom")
    tasks = TASKS.replace(briefed, task("TO-BOOM", "EV1 EV2", None, 6, leg="boom", get_ahead=True))
    assert "get_ahead" in tasks
    assert "TO-BOOM" not in gone("0:00 clock", tasks=tasks)
