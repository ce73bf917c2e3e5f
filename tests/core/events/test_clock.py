"""PET zero is set."""

from __future__ import annotations

from tests.core.sorties import PLAN, complaints
from tests.scenario import follow_at


def test_the_last_clock_event_sets_pet_zero() -> None:
    """PET counts from it, also that of what was logged before it; the other one is listed."""
    log = "0:00 clock\n0:05 start A\n0:10 clock"
    state = follow_at(PLAN, log, "0:30")
    assert (state.pet_min, state.tasks["A"].start_pet_min) == (20, -5)
    assert complaints(log, "0:30") == [("one clock event", "another one; the last sets PET zero")]
