"""The suits of the state."""

from __future__ import annotations

import pytest

from tests.core.state.made import LOG, WORK
from tests.scenario import SORTIE, follow_at, lanes, plan_of, suit

HEAD = f"[sortie]\n{SORTIE}\n" + lanes({"EV1": "A", "EV2": None})
WATER = {"loaded": 3.0, "reserve": 0.4, "base": 0.6, "per_watt": 0}


def test_the_consumable_that_runs_out_first_limits_the_suit():
    """0.6 kg an hour: 1.4 h of water above the reserve at 0:40; the battery lasts longer."""
    battery = {"loaded": 400, "reserve": 40, "base": 40, "per_watt": 0}
    given = plan_of(HEAD + suit("A", water=WATER | {"loaded": 1.64}, battery=battery) + WORK)
    state = follow_at(given, LOG, "0:40").suits["A"]
    assert (state.lanes, state.limiting) == (["EV1"], "water")
    assert state.limit_pet_min == pytest.approx(124) and state.consumables["battery"].reserve_reached_pet_min == 540
    assert state.consumables["water"].left == pytest.approx(1.24)


def test_a_reading_is_shown_with_its_time_beside_what_is_left():
    """What is left is the reading less the use since."""
    state = follow_at(plan_of(HEAD + suit("A", water=WATER) + WORK), f"{LOG}\n0:38 reading A water=2.6", "0:40")
    water = state.suits["A"].consumables["water"]
    assert (water.reading, water.reading_pet_min, water.loaded, water.reserve) == (2.6, 38, 3.0, 0.4)
    assert water.left == pytest.approx(2.58, abs=0.005)


def test_a_suit_of_which_nothing_can_be_computed_has_no_numbers():
    """Nobody wears it: what was loaded stands, the rest is not known."""
    state = follow_at(plan_of(HEAD + suit("A", water=WATER) + suit("B", water=WATER) + WORK), LOG, "0:40").suits["B"]
    assert (state.limiting, state.limit_pet_min, state.consumables["water"].left, state.consumables["water"].loaded) == (
        None, None, None, 3.0,
    )  # fmt: skip
