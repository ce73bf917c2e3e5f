"""What was decided takes effect."""

from __future__ import annotations

from tests.core.sorties import PLAN
from tests.scenario import follow_at


def test_a_decision_defers_and_trims_what_it_names():
    """The decision takes effect as if the defer and the trim had been entered."""
    state = follow_at(PLAN, '0:00 clock\n0:05 decision time defer=E trim={"A":12}', "0:10")
    assert state.tasks["E"].state == "deferred"
    assert state.tasks["A"].planned_min == 12
    assert state.basis.decisions == 1
