"""A recurring call was made."""

from __future__ import annotations

from tests.core.sorties import PLAN
from tests.scenario import follow_at


def test_recurring_checks_fall_due():
    """Every 30 min from PET zero, then from the last one made."""
    state = follow_at(PLAN, "0:00 clock\n0:33 check suit-read lane=EV1", "1:10")
    assert (state.checks[0].due_pet_min, state.checks[0].overdue_min) == (63, 7)
