"""A change that makes no sense is refused, whoever proposes it."""

from __future__ import annotations

import itertools

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.change import with_change
from dashboard.core.deferral.sense_check import makes_no_sense
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from tests.core.deferral.cases import HOME
from tests.core.deferral.plans import START, makes_sense, random_plan, with_sense
from tests.core.deferral.test_sense import DRIVE, THERE_AND_BACK, record_of
from tests.scenario import task

ROUTE = '[[route]]\nfrom = "mast"\nto = "rack"\nduration = 12\n'


def found(tables, change, log="0:00 clock", pet="0:00"):
    """Codes and subjects of what makes no sense."""
    record = record_of(tables, log, pet)
    return [(one.code, one.subject) for one in makes_no_sense(record, with_change(record, change))]


def test_each_rule_is_told_by_its_own_word() -> None:
    """A group torn apart, an obliged task given up, a task that serves nothing, a stop without its leg."""
    tables = (
        task("A", "EV1", 0, 10, together="dish") + task("C", "EV2", 0, 10, together="dish")
        + task("OPEN", "EV1", 10, 10, obliges=["CLOSE"]) + task("CLOSE", "EV1", 20, 10)
        + task("RIG", "EV1", 30, 10, serves=["WORK"]) + task("WORK", "EV1", 40, 10) + HOME
    )
    assert found(tables, Change()) == []
    assert found(tables, Change(defer=("C",))) == [("together", "C")]
    assert found(tables, Change(defer=("CLOSE",))) == [("obliged", "CLOSE")]
    assert found(tables, Change(defer=("WORK",))) == [("serves nothing", "RIG")]
    assert found(DRIVE, Change(defer=("R1",))) == []
    assert found(DRIVE + ROUTE, Change(defer=("GO-R",))) == [("no leg", "R1")]
    assert found(THERE_AND_BACK, Change(defer=("R1", "GO-R", "GO-M2"))) == []


def test_work_that_has_begun_is_closed_again() -> None:
    """OPEN is done, so CLOSE may not go, with OPEN or without."""
    tables = task("OPEN", "EV1", 0, 10, obliges=["CLOSE"]) + task("CLOSE", "EV1", 20, 10) + HOME
    log = "0:00 clock\n0:00 start OPEN\n0:09 done OPEN"
    assert found(tables, Change(defer=("CLOSE",)), log, "0:10") == [("obliged", "CLOSE")]


def test_breaking_off_counts_as_going() -> None:
    """A is in work and its group has begun: neither it nor the other goes."""
    tables = task("A", "EV1", 0, 30, together="dish", closeout=3) + task("C", "EV2", 30, 10, together="dish") + HOME
    log, change = "0:00 clock\n0:00 start A", Change(defer=("C",), break_off=("A",))
    assert found(tables, change, log, "0:10") == [("together", "A"), ("together", "C")]


def test_what_was_so_before_is_not_held_against_a_change() -> None:
    """CLOSE was deferred by the room already: deferring A adds nothing that makes no sense."""
    tables = (
        task("OPEN", "EV1", 0, 10, obliges=["CLOSE"]) + task("CLOSE", "EV1", 20, 10) + task("A", "EV2", 0, 10) + HOME
    )
    assert found(tables, Change(defer=("A",)), "0:00 clock\n0:01 defer CLOSE", "0:02") == []


def test_every_subset_of_random_plans_is_judged_right() -> None:
    """On 60 random plans a subset is refused just when it makes no sense by the fields of the plan."""
    counts = {True: 0, False: 0}
    for seed in range(60):
        plan = with_sense(random_plan(seed, trims=False, sizes=(4, 5)), seed)
        record = reconcile(plan, [], parse_instant(START))
        names = [one.id for one in plan.tasks]
        for size in range(len(names) + 1):
            for given in itertools.combinations(names, size):
                after = with_change(record, Change(defer=given))
                if any(after.in_plan(t) is (t in given) for t in names):  # some go along because they come after
                    continue
                right = makes_sense(record, given)
                assert (makes_no_sense(record, after) == []) is right, (seed, given)
                counts[right] += 1
    assert min(counts.values()) > 100
