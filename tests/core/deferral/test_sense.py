"""Which tasks go along with others, and which may no longer go."""

from __future__ import annotations

import random

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.change import closed, value_lost
from dashboard.core.deferral.sense import (
    GoesWith,
    closed_under,
    comes_back_with,
    gets_there,
    may_not_go,
)
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from tests.core.deferral.cases import HOME, LANES
from tests.core.deferral.plans import START, makes_sense, random_plan, with_sense
from tests.scenario import at, log_of, plan_of, task

SITES = "".join(f'[[worksite]]\nid = "{name}"\nreturn = 5\n' for name in ("mast", "rack")) + '[[worksite]]\nid = "lock"\n'
DRIVE = (
    SITES + task("GO-M", "EV1 EV2", 0, 10, leg="mast") + task("M1", "EV1", 10, 20, worksite="mast", can_move_to=["EV2"])
    + task("M2", "EV2", 10, 20, worksite="mast") + task("GO-R", "EV1", 30, 10, leg="rack")
    + task("R1", "EV1", 40, 20, worksite="rack") + task("BACK", "EV1 EV2", 60, 10, leg="lock", required=True)
    + HOME.replace('id = "HOME"', 'id = "HOME"\nworksite = "lock"')
)
THERE_AND_BACK = (
    SITES + task("GO-M", "EV1", 0, 10, leg="mast", required=True)
    + task("OPEN", "EV1", 10, 20, worksite="mast", obliges=["CLOSE"])
    + task("GO-R", "EV1", 30, 10, leg="rack") + task("R1", "EV1", 40, 60, worksite="rack")
    + task("GO-M2", "EV1", 100, 10, leg="mast") + task("CLOSE", "EV1", 110, 10, worksite="mast")
    + task("BACK", "EV1", 120, 10, leg="lock", required=True)
    + HOME.replace('id = "HOME"', 'id = "HOME"\nworksite = "lock"')
)


def record_of(tables, log="0:00 clock", pet="0:00"):
    """The record of a plan at a PET."""
    return reconcile(plan_of(LANES + tables), log_of(log), parse_instant(at(pet)))


def goes(record, *tasks):
    """All that goes when these tasks are deferred."""
    return set(closed(record, Change(defer=tasks)).defer)


def test_a_group_goes_as_a_whole() -> None:
    """A and C carry the same word: when one goes, so does the other, and B stays."""
    tables = task("A", "EV1", 0, 10, together="dish") + task("B", "EV1", 10, 10) + task("C", "EV2", 0, 10, together="dish") + HOME
    assert goes(record_of(tables), "C") == {"A", "C"}


def test_what_would_be_left_open_is_not_opened() -> None:
    """OPEN obliges CLOSE: without CLOSE there is no OPEN. Without OPEN, CLOSE may stay."""
    tables = task("OPEN", "EV1", 0, 10, obliges=["CLOSE"]) + task("CLOSE", "EV1", 10, 10) + HOME
    assert goes(record_of(tables), "CLOSE") == {"OPEN", "CLOSE"}
    assert goes(record_of(tables), "OPEN") == {"OPEN"}


def test_what_serves_goes_with_the_last_that_it_serves() -> None:
    """RIG serves A and B: it stays for one of them."""
    tables = task("RIG", "EV1", 0, 10, serves=["A", "B"]) + task("A", "EV1", 10, 10) + task("B", "EV1", 20, 10) + HOME
    assert goes(record_of(tables), "A") == {"A"}
    assert goes(record_of(tables), "A", "B") == {"A", "B", "RIG"}


def test_what_serves_a_leg_goes_with_it() -> None:
    """RIG is there for the drive to the rack, which goes when nothing is to be done at the rack."""
    record = record_of(task("RIG", "EV2", 0, 5, serves=["GO-R"]) + DRIVE)
    assert goes(record, "R1") == {"R1", "GO-R", "RIG"}
    assert goes(record, "M1") == {"M1"}


def test_a_leg_goes_when_nothing_is_left_at_its_end() -> None:
    """The drive to the mast takes both lanes: it stays while one of them works there."""
    record = record_of(DRIVE)
    assert goes(record, "M1") == {"M1"}
    assert goes(record, "M1", "M2") == {"M1", "M2", "GO-M"}
    assert goes(record, "R1") == {"R1", "GO-R"}


def test_what_lies_at_the_end_of_a_leg_goes_with_it() -> None:
    """Nobody works at the rack whom nothing takes there."""
    assert goes(record_of(DRIVE), "GO-R") == {"GO-R", "R1"}


def test_a_way_back_that_is_not_needed_takes_no_work_along() -> None:
    """Out to the mast, aside to the rack, back to the mast: without the work at the rack both ways go, and CLOSE stays.

    Only what serves the way back goes with it.
    """
    record = record_of(THERE_AND_BACK)
    assert goes(record, "R1") == {"R1", "GO-R", "GO-M2"}
    assert goes(record, *goes(record, "R1")) == goes(record, "R1")
    assert goes(record, "GO-M2") == {"GO-M2", "CLOSE", "OPEN"}
    served = record_of(task("RIG", "EV2", 0, 5, serves=["GO-M2"]) + THERE_AND_BACK)
    assert goes(served, "R1") == {"R1", "GO-R", "GO-M2", "RIG"}


def test_a_leg_is_worth_what_is_done_at_its_end() -> None:
    """R1 is worth 1; the drive there adds nothing."""
    record = record_of(DRIVE)
    assert value_lost(record, closed(record, Change(defer=("R1",)))) == {2: 1.0}


def test_a_task_is_handed_only_to_a_lane_that_a_leg_took_there() -> None:
    """M1 may go to EV2, who drove along. R1 may not: EV1 drove to the rack alone."""
    record = record_of(DRIVE)
    assert gets_there(record, "M1", "EV2")
    assert not gets_there(record, "R1", "EV2")


def test_a_task_may_go_to_a_lane_that_another_leg_took_to_the_same_worksite() -> None:
    """EV1 walks to the mast and EV2 rides there: what EV1 has to do there EV2 may do."""
    tables = (
        task("WALK", "EV1", 0, 10, leg="mast") + task("RIDE", "EV2", 0, 10, leg="mast")
        + task("M", "EV1", 10, 10, worksite="mast", can_move_to=["EV2"])
    )
    sites = '[[worksite]]\nid = "lock"\nreturn = 0\n[[worksite]]\nid = "mast"\nreturn = 9\n'
    assert gets_there(record_of(sites + tables), "M", "EV2")


def test_what_has_begun_makes_others_stay() -> None:
    """OPEN is in work: CLOSE must be done. A of the group is done: C must be done too."""
    tables = (
        task("OPEN", "EV1", 0, 10, obliges=["CLOSE"]) + task("CLOSE", "EV1", 10, 10)
        + task("A", "EV2", 0, 10, together="dish") + task("C", "EV2", 10, 10, together="dish") + HOME
    )
    assert may_not_go(record_of(tables)) == frozenset()
    begun = record_of(tables, "0:00 clock\n0:00 start OPEN\n0:00 start A\n0:09 done A", "0:10")
    assert may_not_go(begun) == {"CLOSE", "A", "C"}


def test_what_goes_along_makes_sense_on_random_plans() -> None:
    """On 300 random plans, each task deferred alone takes along what is needed for the rest to make sense, and no cycle hangs."""
    along = 0
    for seed in range(300):
        plan = with_sense(random_plan(seed, trims=False), seed)
        record = reconcile(plan, [], parse_instant(START))
        one = random.Random(seed).choice(plan.tasks).id
        all_of_them = goes(record, one)
        assert makes_sense(record, tuple(all_of_them)), seed
        along += len(all_of_them) > 1
    assert along > 50


def test_one_of_several_is_enough_to_come_back() -> None:
    """B goes when A and D are both gone: when B comes back, one of them does."""
    rules = [GoesWith("B", frozenset("AD"))]
    assert closed_under(rules, {"A"}) == {"A"}
    assert closed_under(rules, {"A", "D"}) == {"A", "B", "D"}
    assert comes_back_with(rules, {"A", "B", "D"}, "B") == {"A", "B"}
    assert comes_back_with(rules, {"A", "B"}, "B") == {"B"}
