"""What a suit has left."""

from __future__ import annotations

from tests.core.sorties import PLAN
from tests.scenario import follow_at


def test_readings_are_kept_as_logged():
    """The last reading is what is left; without one it is unknown."""
    state = follow_at(PLAN, "0:00 clock\n0:30 reading A water=3.1", "0:40")
    assert state.suits["A"].consumables["water"].left == 3.1
    assert state.suits["A"].consumables["water"].reading_pet_min == 30
    assert follow_at(PLAN, "0:00 clock", "0:40").suits["A"].consumables["water"].left is None
