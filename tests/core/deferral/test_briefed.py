"""What the brief itself promises."""

from __future__ import annotations

from dashboard.core.deferral.briefed import briefed_chance
from tests.core.deferral.cases import LANES
from tests.scenario import plan_of, task


def _plan(duration_min: float):
    return plan_of(LANES + task("T1", "EV1 EV2", 0, duration_min))


def test_a_brief_with_time_in_hand_is_nearly_certain():
    """Forty minutes of work against a limit of PET 1:40."""
    chance = briefed_chance(_plan(40), draws=500)
    assert chance is not None and chance > 0.95


def test_a_brief_beyond_its_limit_has_next_to_no_chance():
    """Ten hours of work against the same limit."""
    chance = briefed_chance(_plan(600), draws=500)
    assert chance is not None and chance < 0.05


def test_without_draws_there_is_no_chance():
    """Nothing was drawn, so nothing is said."""
    assert briefed_chance(_plan(40), draws=0) is None
