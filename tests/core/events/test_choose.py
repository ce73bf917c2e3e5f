"""An ending is taken."""

from __future__ import annotations

from tests.core.sorties import PLAN
from tests.scenario import follow_at


def test_choosing_an_option_swaps_the_tasks_of_the_plan_of_record():
    """Q joins and P leaves; neither is called deferred."""
    before = follow_at(PLAN, "0:00 clock", "0:05")
    assert (before.tasks["P"].in_plan, before.tasks["Q"].in_plan) == (True, False)
    assert before.alternatives_open == ["ending"]
    after = follow_at(PLAN, "0:00 clock\n0:04 choose ending option=long", "0:05")
    assert (after.tasks["P"].in_plan, after.tasks["Q"].in_plan) == (False, True)
    assert after.tasks["P"].state == "not started"
    assert after.alternatives == {"ending": "long"}
    assert after.alternatives_open == []
