"""What the validator finds wrong with a proposal."""

from __future__ import annotations

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.advise import advise
from dashboard.core.deferral.validate import faults
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from tests.core.deferral.cases import HOME, LANES, STOP
from tests.scenario import at, log_of, plan_of, task

TIGHT = (
    task("A", "EV1", 0, 40.25, priority=1) + task("B", "EV1", 41, 30.5, priority=2, shortest=20.25)
    + task("C", "EV1", 72, 60.35, priority=3) + HOME.replace("110", "133")
)
DRY = '[[suit]]\nid = "A"\noxygen = { loaded = 0.3, reserve = 0.1, base = 0.1, per_watt = 0 }\n'


def test_faults_are_told_in_whole_minutes_and_pet():
    """Rounded towards danger: what is over and short up, the limit down."""
    record = reconcile(plan_of(LANES + DRY + TIGHT), log_of("0:00 clock"), parse_instant(at("0:00")))
    said = [rule.words for rule in faults(record, Change(trim={"B": 10}), 100.5)]
    assert "B is useful from 21 min up" in said  # 20:15
    assert "in at PET 2:01, limit PET 1:40" in said  # 120.6 of 100.5 min
    assert "suit A oxygen short by 1 min" in said  # 120 min of oxygen


def test_the_tasks_of_an_inserted_contingency_stay():
    """C2 is of the lowest class and would cost least, but LIFT waits for it: A goes."""
    record = reconcile(plan_of(LANES + STOP), log_of("0:00 clock\n0:00 insert arm-stop"), parse_instant(at("0:00")))
    first = advise(record, basis="plan-pace").proposals[0]
    assert first.figures.change.defer == ("A",)
    assert "contingency" in [rule.code for rule in faults(record, Change(defer=("C2",)), 1e6)]
