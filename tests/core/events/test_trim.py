"""A task is cut short."""

from __future__ import annotations

from tests.core.sorties import PLAN, complaints
from tests.scenario import follow_at


def test_a_trim_sets_the_planned_length():
    """A trimmed to 12 min ends at 0:12; under its shortest it is applied and listed."""
    state = follow_at(PLAN, "0:00 clock\n0:00 start A\n0:02 trim A duration=12", "0:05")
    assert state.tasks["A"].projected_finish_pet_min == 12
    assert state.discrepancies == []
    assert complaints("0:00 clock\n0:02 trim A duration=5", "0:05") == [
        ("at least 10 min for A", "trim to 5 min; applied")
    ]


def test_a_trim_to_more_than_the_planned_length_offers_the_extend():
    """It is applied as the room meant it, and listed."""
    log = "0:00 clock\n0:00 start A\n0:02 trim A duration=45"
    assert follow_at(PLAN, log, "0:05").tasks["A"].projected_finish_pet_min == 45
    assert complaints(log, "0:05") == [
        ("a length below the planned 30 min of A (an extend lets it run longer)", "trim to 45 min; applied")
    ]
    assert complaints("0:00 clock\n0:02 trim A duration=12\n0:03 trim A duration=20", "0:05") == [
        ("a length below the planned 12 min of A (an extend lets it run longer)", "trim to 20 min; applied")
    ]
