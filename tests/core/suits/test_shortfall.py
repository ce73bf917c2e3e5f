"""What the draws that are not in time are past."""

from __future__ import annotations

import numpy as np
import pytest

from dashboard.core.suits.shortfall import LIMIT, short_of, shortfall_shares
from tests.core.suits.suited import budget_of

ENDS = np.linspace(300.0, 400.0, 1001)


def test_each_bound_has_its_share_of_the_draws() -> None:
    """Half of the ends are past 5:50. Suit A lasts long enough in every draw, so it is past in none."""
    shares = shortfall_shares(ENDS, 350.0, budget_of(), 60.0)
    assert shares[None] == pytest.approx(0.5, abs=0.01)
    assert shares["A", "water"] < 0.5 and ("B", "water") in shares
    assert short_of(ENDS, 350.0, budget_of(), 60.0) == LIMIT


def test_a_suit_that_runs_short_is_named() -> None:
    """Nothing is past a limit of 10 h. The water of suit A, at 0.6 kg/h, is at its reserve at about PET 6:00, amid the ends."""
    assert short_of(ENDS, 600.0, budget_of(), 60.0) == "suit A water"


def test_nothing_is_short_when_every_draw_is_in_time() -> None:
    """Ends within the first hour from now."""
    assert short_of(np.full(100, 70.0), 600.0, budget_of(), 60.0) is None
