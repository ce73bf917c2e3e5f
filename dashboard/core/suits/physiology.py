"""Consumption of a suited crew member, from physiology. The values and their sources are in `constants.py`.

The metabolic rate M is in watts. The use of a consumable is `base + per_watt * M`, in kg/h (W for the battery).
"""

from __future__ import annotations

from typing import NamedTuple

from dashboard.core.suits.constants import (
    BATTERY_W,
    CO2_G_PER_MOL,
    ENVIRONMENT_HEAT_W,
    JOULES_PER_KCAL,
    MOLAR_VOLUME_L,
    O2_G_PER_MOL,
    O2_LEAK_KG_PER_H,
    QUOTIENT_FOR_CO2,
    QUOTIENT_FOR_OXYGEN,
    SECONDS_PER_HOUR,
    SUIT_HEAT_W,
    VAPORISATION_J_PER_KG,
    WEIR_CO2_KCAL_PER_L,
    WEIR_O2_KCAL_PER_L,
)


class Rate(NamedTuple):
    """Use per hour: `base` at any workload, plus `per_watt` for each watt of metabolic rate."""

    base: float
    per_watt: float


def oxygen_kg_per_kcal(quotient: float = QUOTIENT_FOR_OXYGEN) -> float:
    """Oxygen taken up for each kilocalorie of metabolic heat (Weir relation).

    Parameters
    ----------
    quotient
        Respiratory quotient: litres of CO2 given off for each litre of O2 taken up.

    Returns
    -------
    float
        In kg/kcal.
    """
    litres = 1.0 / (WEIR_O2_KCAL_PER_L + WEIR_CO2_KCAL_PER_L * quotient)
    return litres / MOLAR_VOLUME_L * O2_G_PER_MOL / 1000.0


def co2_kg_per_kcal(quotient: float = QUOTIENT_FOR_CO2) -> float:
    """CO2 given off for each kilocalorie of metabolic heat (Weir relation).

    Parameters
    ----------
    quotient
        Respiratory quotient: litres of CO2 given off for each litre of O2 taken up.

    Returns
    -------
    float
        In kg/kcal.
    """
    litres = quotient / (WEIR_O2_KCAL_PER_L + WEIR_CO2_KCAL_PER_L * quotient)
    return litres / MOLAR_VOLUME_L * CO2_G_PER_MOL / 1000.0


def default_rates() -> dict[str, Rate]:
    """Default rate of each consumable: kg/h, and kg/h for each watt of metabolic rate; W for the battery."""
    kcal_per_h_per_watt = SECONDS_PER_HOUR / JOULES_PER_KCAL
    water_per_watt = SECONDS_PER_HOUR / VAPORISATION_J_PER_KG
    return {
        "oxygen": Rate(O2_LEAK_KG_PER_H, oxygen_kg_per_kcal() * kcal_per_h_per_watt),
        "co2": Rate(0.0, co2_kg_per_kcal() * kcal_per_h_per_watt),
        "battery": Rate(BATTERY_W, 0.0),
        "water": Rate(water_per_watt * (SUIT_HEAT_W + ENVIRONMENT_HEAT_W), water_per_watt),
    }


ASSUMED = frozenset({"battery"})
"""Consumables whose default rate is only assumed: it depends on the suit, and no source gives it for the suit of a plan."""

SOURCES: dict[str, str] = {
    "oxygen": f"Weir relation at a respiratory quotient of {QUOTIENT_FOR_OXYGEN}, and suit leak as on published sorties",
    "co2": f"Weir relation at a respiratory quotient of {QUOTIENT_FOR_CO2}",
    "battery": "the load of a published suit",
    "water": "metabolic, suit and environment heat over the latent heat of vaporisation; the environment as on published sorties",
}
