"""Consumption of a suited crew member, from physiology. Every value names its source and whether it was read there.

The metabolic rate M is in watts. The use of a consumable is `base + per_watt * M`, in kg/h (W for the battery).
"""

from __future__ import annotations

from typing import NamedTuple

SECONDS_PER_HOUR = 3600.0
JOULES_PER_KCAL = 4184.0  # thermochemical calorie, exact by definition
MOLAR_VOLUME_L = 22.414  # litres for each mole at 0 C and 101.325 kPa (CODATA, rounded)
O2_G_PER_MOL = 31.998
CO2_G_PER_MOL = 44.009

RESPIRATORY_QUOTIENT = 0.86
"""Litres of CO2 given off for each litre of O2 taken up, nominal. NASA/TP-2015-218570 Rev 2, pp. 58-59 (read)."""

WEIR_O2_KCAL_PER_L = 3.941
WEIR_CO2_KCAL_PER_L = 1.106
"""J. B. de V. Weir, J Physiol 109:1 (1949). From memory; the rounded 3.9 and 1.1 were read."""

VAPORISATION_J_PER_KG = 2.501e6
"""Latent heat of water at 0 C (read; checked against a reference library in tests/published/).

A sublimator is fed with liquid water, which freezes and then sublimates. Freezing releases as much heat as melting takes, so
each kilogram takes away the heat of vaporisation alone.
"""

O2_LEAK_KG_PER_H = 0.005
"""Suit leak. NASA/TP-2015-218570 Rev 2, section 5.2.2 (read second-hand)."""

SUIT_HEAT_W = 60.0
"""Heat of the suit's own equipment, near its electrical power; common practice, no source."""

ENVIRONMENT_HEAT_W = 108.0
"""Net heat from the surroundings that the cooling must also carry away. It was set on Apollo 17 EVA-1 alone (feedwater against
metabolic trace, see tests/published/) and tested on other sorties; it differs from sortie to sortie."""

BATTERY_W = 55.0
"""Electrical power at any workload; common practice, no source."""

WORKLOAD_W: dict[str, float] = {"rest": 143.0, "light": 200.0, "moderate": 284.0, "heavy": 450.0}
"""Metabolic rate by word. Rest: riding, 123 kcal/h; moderate: mean of station work, 244 kcal/h (NASA SP-368 ch. 4, from
memory); heavy lies inside the range of task rates, 100 to 500 kcal/h (read in an abstract); light is our own value between."""

DEFAULT_WORKLOAD = "moderate"
IDLE_WORKLOAD = "light"


class Rate(NamedTuple):
    """Use per hour: `base` at any workload, plus `per_watt` for each watt of metabolic rate."""

    base: float
    per_watt: float


def oxygen_kg_per_kcal(quotient: float = RESPIRATORY_QUOTIENT) -> float:
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


def co2_kg_per_kcal(quotient: float = RESPIRATORY_QUOTIENT) -> float:
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


SOURCES: dict[str, str] = {
    "oxygen": "Weir relation at a respiratory quotient of 0.86, and suit leak",
    "co2": "Weir relation at a respiratory quotient of 0.86",
    "battery": "constant draw, common practice, no source",
    "water": "metabolic, suit and environment heat over the latent heat of vaporisation",
}
