"""Our life-support constants against published values; each with the error that was found.

BVAD is NASA/TP-2015-218570 Rev 2 (Life Support Baseline Values and Assumptions Document).
"""

from __future__ import annotations

import pytest
from iapws import IAPWS95

from dashboard.core.suits.constants import (
    CO2_G_PER_MOL,
    JOULES_PER_KCAL,
    MOLAR_VOLUME_L,
    O2_G_PER_MOL,
    QUOTIENT_FOR_CO2,
    QUOTIENT_FOR_OXYGEN,
    VAPORISATION_J_PER_KG,
    WEIR_CO2_KCAL_PER_L,
    WEIR_O2_KCAL_PER_L,
    WORKLOAD_W,
)
from dashboard.core.suits.physiology import co2_kg_per_kcal, default_rates, oxygen_kg_per_kcal

DAY_KCAL = 12.426e6 / JOULES_PER_KCAL  # heat of a nominal crew day: BVAD table 3-31, p. 58, READ


def use_kg_per_h(name: str, watts: float) -> float:
    rate = default_rates()[name]
    return rate.base + rate.per_watt * watts


def test_latent_heat_of_water_is_that_of_the_international_formulation():
    """IAPWS-95 at the triple point, as the package iapws computes it: 2.501 MJ/kg to a thousandth."""
    vapour, liquid = IAPWS95(T=273.16, x=1), IAPWS95(T=273.16, x=0)
    assert pytest.approx(1000 * (vapour.h - liquid.h), rel=1e-3) == VAPORISATION_J_PER_KG


def test_weir_s_coefficients_round_to_the_published_ones():
    """3.941 and 1.106 (MEMORY) round to 3.9 and 1.1 (READ); energy a litre of oxygen differs by under 1 %."""
    assert (round(WEIR_O2_KCAL_PER_L, 1), round(WEIR_CO2_KCAL_PER_L, 1)) == (3.9, 1.1)
    rounded = 1 / (3.9 + 1.1 * QUOTIENT_FOR_OXYGEN) / MOLAR_VOLUME_L * O2_G_PER_MOL / 1000
    assert oxygen_kg_per_kcal() == pytest.approx(rounded, rel=1e-2)


def test_the_quotients_are_those_published_and_each_is_on_the_safe_side():
    """0.86 nominal, 0.95 in aerobic work (BVAD pp. 58-59, READ): each is the one of the two that uses more."""
    assert (QUOTIENT_FOR_OXYGEN, QUOTIENT_FOR_CO2) == (0.86, 0.95)
    assert oxygen_kg_per_kcal() > oxygen_kg_per_kcal(QUOTIENT_FOR_CO2)
    assert co2_kg_per_kcal() > co2_kg_per_kcal(QUOTIENT_FOR_OXYGEN)


def test_oxygen_of_a_crew_day_falls_short_of_the_published_one_by_3_per_cent():
    """0.895 kg for 12.426 MJ (BVAD table 3-31, p. 58, READ); the Weir relation gives 0.867: 3.2 % short."""
    assert oxygen_kg_per_kcal() * DAY_KCAL / 0.895 - 1 == pytest.approx(-0.032, abs=0.003)


def test_co2_of_a_crew_day_is_above_the_published_one_by_2_per_cent():
    """1.085 kg for 12.426 MJ (same place, READ); the Weir relation gives 1.110: 2.3 % more, the safe side."""
    assert co2_kg_per_kcal() * DAY_KCAL / 1.085 - 1 == pytest.approx(0.023, abs=0.003)


def test_published_day_itself_is_of_another_quotient():
    """1.085 kg CO2 for 0.895 kg O2 is a quotient of 0.88, so neither 0.86 nor 0.95 meets both."""
    assert pytest.approx(0.88, abs=0.005) == (1.085 / CO2_G_PER_MOL) / (0.895 / O2_G_PER_MOL)


def test_co2_of_a_sortie_is_what_the_published_oxygen_gives_at_the_quotient_of_work():
    """0.071 kg/h of oxygen without leak (BVAD 5.2.2, READ second-hand) at 0.95 (READ): 0.093 kg/h; ours 2 % less.

    A published 0.093 (BVAD, MEMORY) is the same. It decides nothing here.
    """
    by_quotient = (0.076 - 0.005) / O2_G_PER_MOL * 0.95 * CO2_G_PER_MOL
    assert by_quotient == pytest.approx(0.093, abs=5e-4)
    assert use_kg_per_h("co2", WORKLOAD_W["moderate"]) / by_quotient - 1 == pytest.approx(-0.016, abs=0.005)
