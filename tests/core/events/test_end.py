"""The sortie is over."""

from __future__ import annotations

import pytest

from tests.core.sorties import PLAN
from tests.scenario import follow_at


def test_the_end_freezes_the_sortie():
    """After the end nothing is projected and PET stands still; open tasks are listed."""
    state = follow_at(PLAN, "0:00 clock\n0:00 start A\n0:20 done A\n0:20 start B\n0:40 end", "2:00")
    assert state.ended
    assert state.pet_min == 40
    assert (state.end.actual_pet_min, state.end.closed_pet_min) == (40, 40)  # B was in work until then
    assert state.tasks["C"].projected_start_pet_min is None
    assert state.discrepancies[0].found == "B"


@pytest.mark.parametrize(
    ("log", "is_in"),
    [
        ("0:00 start A\n0:20 done A\n4:00 end", 20),
        ("0:00 start A\n0:20 done A\n0:20 start B\n4:00 end", 240),
        ("4:00 end", 240),
    ],
    ids=["done", "in work when it was closed", "nothing done"],
)
def test_the_margin_of_a_sortie_that_is_over_is_that_of_when_the_crew_was_in(log: str, is_in: float):
    """Closing the log later moves nothing: limit less actual end is the margin."""
    state = follow_at(PLAN, f"0:00 clock\n{log}", "5:00")
    assert (state.end.actual_pet_min, state.end.closed_pet_min) == (is_in, 240)
    assert state.end.margin_min == state.limit.pet_min - is_in
