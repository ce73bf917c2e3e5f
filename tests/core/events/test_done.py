"""Work is complete."""

from __future__ import annotations

from tests.core.sorties import PLAN
from tests.scenario import follow_at


def test_a_done_ends_the_task_and_frees_its_lane() -> None:
    """It took as long as it was in work, and what comes next may start without complaint."""
    state = follow_at(PLAN, "0:00 clock\n0:00 start A\n0:25 done A\n0:26 start B", "0:30")
    assert (state.tasks["A"].state, state.tasks["A"].finish_pet_min, state.tasks["A"].worked_min) == ("done", 25, 25)
    assert state.lanes["EV1"].task == "B" and state.discrepancies == []
