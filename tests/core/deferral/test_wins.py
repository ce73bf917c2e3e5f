"""What each part of a change wins."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.change import closed
from dashboard.core.deferral.wins import Win, wins_of
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from tests.scenario import at, lanes, log_of, plan_of, task

PLAN = plan_of(
    '[sortie]\nid = "t"\nstart = 2031-04-12T09:10:00Z\nlimit = 200\n' + lanes({"EV1": None, "EV2": None})
    + task("A", "EV1", 0, 10) + task("B", "EV1", 10, 40, shortest=15) + task("C", "EV1", 50, 30, after=["B"])
    + task("D", "EV2", 0, 60)
)


def wins(change: Change, **given: object):
    return {part: win.minutes for part, win in _wins(change, **given).items() if win.minutes is not None}


def _wins(change: Change, **given: object):
    record = reconcile(PLAN, log_of("0:00 clock\n0:00 start A"), parse_instant(at("0:05")))
    return wins_of(record, closed(record, change), draws=0, **given)


def test_a_part_wins_what_the_end_would_be_later_without_it():
    """EV1 ends at 80 min, EV2 at 65 min. Each part alone wins 15 min. Of both together either is enough, so none wins any."""
    assert wins(Change(trim={"B": 15.0})) == {("trim", "B"): pytest.approx(15.0)}
    assert wins(Change(trim={"B": 15.0}, defer=("C",))) == {("trim", "B"): pytest.approx(0.0), ("defer", "C"): pytest.approx(0.0)}
    assert wins(Change(defer=("C",))) == {("defer", "C"): pytest.approx(15.0)}


def test_what_goes_along_has_no_win_of_its_own():
    """C comes after B, so it cannot stay when B goes, and it is said with what it goes."""
    assert list(wins(Change(defer=("B",)))) == [("defer", "B")]
    assert _wins(Change(defer=("B",)))["defer", "C"] == Win(None, None, ("defer", "B"))


def test_a_deferred_task_would_begin_earlier_once_the_rest_is_given_up():
    """C begins at 50 min as things stand. With B cut to 15 min it begins at 25 min. A has begun: its trim has no such time."""
    found = _wins(Change(trim={"B": 15.0}, defer=("C",)))
    assert {name: win.closes_pet_min for name, win in found.items()} == {("trim", "B"): 10.0, ("defer", "C"): 25.0}
    assert _wins(Change(trim={"A": 8.0}))["trim", "A"].closes_pet_min is None


def test_a_task_that_would_wait_closes_when_its_lane_goes_on_without_it():
    """C may begin at 70 min only. Without it EV1 goes on to E at 50 min: by then C must be given up."""
    tables = task("A", "EV1", 0, 10) + task("B", "EV1", 10, 40) + task("C", "EV1", 50, 30, not_before=70)
    tables += task("E", "EV1", 80, 20)
    plan = plan_of('[sortie]\nid = "t"\nstart = 2031-04-12T09:10:00Z\nlimit = 200\n' + lanes({"EV1": None}) + tables)
    record = reconcile(plan, log_of("0:00 clock\n0:00 start A"), parse_instant(at("0:05")))
    assert wins_of(record, Change(defer=("C",)), draws=0)["defer", "C"] == Win(pytest.approx(50.0), 50.0)


def test_a_leg_goes_with_the_work_at_its_end_and_the_work_wins_both():
    """L leads to B only. Without both the lane stays at the airlock and is in at 10 min, not at 60: they win 50 min."""
    sites = '[[worksite]]\nid = "airlock"\nreturn = 0\n[[worksite]]\nid = "far"\nreturn = 5\n'
    tables = sites + task("A", "EV1", 0, 10, worksite="airlock") + task("L", "EV1", 10, 10, leg="far")
    tables += task("B", "EV1", 20, 30, worksite="far") + task("HOME", "EV1", 50, 10, leg="airlock", required=True)
    plan = plan_of('[sortie]\nid = "t"\nstart = 2031-04-12T09:10:00Z\nlimit = 200\n' + lanes({"EV1": None}) + tables)
    record = reconcile(plan, log_of("0:00 clock\n0:00 start A"), parse_instant(at("0:05")))
    found = wins_of(record, closed(record, Change(defer=("L", "B"))), draws=0)
    assert found["defer", "B"].minutes == pytest.approx(50.0)
    assert found["defer", "L"] == Win(None, None, ("defer", "B"))


def test_it_ends_when_it_is_no_longer_wanted():
    """Nothing is worked out then."""
    assert wins(Change(defer=("C",)), stop=lambda: True) == {}
