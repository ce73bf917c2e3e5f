"""Use of consumables from the metabolic rate: the arithmetic, against the relations that it is made of.

Published values are in `tests/published/test_life_support.py`.
"""

from __future__ import annotations

import pytest

from dashboard.core.plan.model import CONSUMABLE_NAMES
from dashboard.core.suits.constants import (
    CO2_G_PER_MOL,
    JOULES_PER_KCAL,
    O2_G_PER_MOL,
    O2_LEAK_KG_PER_H,
    VAPORISATION_J_PER_KG,
)
from dashboard.core.suits.physiology import SOURCES, co2_kg_per_kcal, default_rates, oxygen_kg_per_kcal


@pytest.mark.parametrize("quotient", [0.7, 0.86, 1.0])
def test_carbon_dioxide_over_oxygen_is_the_respiratory_quotient_in_moles(quotient):
    """Whatever the heat: as many moles of one as the quotient says for one mole of the other."""
    moles = (co2_kg_per_kcal(quotient) / CO2_G_PER_MOL) / (oxygen_kg_per_kcal(quotient) / O2_G_PER_MOL)
    assert moles == pytest.approx(quotient)


def test_fat_takes_more_oxygen_for_the_same_heat_than_sugar():
    """A lower quotient: more oxygen, less carbon dioxide."""
    assert oxygen_kg_per_kcal(0.7) > oxygen_kg_per_kcal(1.0)
    assert co2_kg_per_kcal(0.7) < co2_kg_per_kcal(1.0)


def test_the_heat_of_an_hour_of_work_leaves_with_the_water_that_it_evaporates():
    """300 W more for an hour are 1.08 MJ: that over the latent heat."""
    water, oxygen = default_rates()["water"], default_rates()["oxygen"]
    assert 300 * water.per_watt == pytest.approx(300 * 3600 / VAPORISATION_J_PER_KG)
    assert 300 * oxygen.per_watt == pytest.approx(300 * 3600 / JOULES_PER_KCAL * oxygen_kg_per_kcal())


def test_at_no_metabolic_rate_only_leak_battery_and_the_heat_of_suit_and_surroundings_remain():
    """No carbon dioxide; the battery does not know the work at all."""
    rates = default_rates()
    assert (rates["oxygen"].base, rates["co2"].base, rates["battery"].per_watt) == (O2_LEAK_KG_PER_H, 0.0, 0.0)
    assert rates["water"].base > 0


def test_every_consumable_has_a_rate_and_names_its_source():
    """None is left without."""
    assert set(default_rates()) == set(SOURCES) == set(CONSUMABLE_NAMES)
