"""How many minutes remain."""

from __future__ import annotations

from tests.core.sorties import PLAN
from tests.scenario import follow_at


def test_an_estimate_replaces_the_likely_remainder_and_runs_down_with_work():
    """25 min remaining at 0:10 are 20 at 0:15, stand still on hold, and never fall below zero."""
    log = "0:00 clock\n0:00 start A\n0:10 estimate A remaining=25\n0:20 hold A"
    assert follow_at(PLAN, log, "0:15").tasks["A"].projected_finish_pet_min == 35
    assert follow_at(PLAN, log, "0:50").tasks["A"].estimate_min == 15
    late = follow_at(PLAN, "0:00 clock\n0:00 start A\n0:10 estimate A remaining=5", "0:30").tasks["A"]
    assert late.remaining_min == 0
    assert late.projected_finish_pet_min == 30
