"""Every constant of the suits: its value, what it is worth, and where it comes from. `ORIGIN` says which kind each one is.

READ: seen in the source, or in a source that quotes it. MEMORY: recalled, not opened. The checks against the sources are in
`tests/published/test_suit_constants.py`. Rates are in kg/h, W for the battery, and W of metabolic rate.

Sources with short names:

- BVAD: Life Support Baseline Values and Assumptions Document, NASA/TP-2015-218570 Rev 2.
- MISHAP: report on a suit water intrusion, p. 40, on what the suit of the Shuttle and the Station is made for (READ): on
  average 1000 Btu/h for 7 h or 850 Btu/h for 8 h; at most 1600 Btu/h for an hour; at least 350 Btu/h for half an hour after work
  at 1000 Btu/h, and 700 Btu/h for the half hour after that.
- ALSJ: Apollo Lunar Surface Journal, with the Mission Reports that it quotes (READ).
"""

from __future__ import annotations

from typing import Literal

# -- physics ------------------------------------------------------------------------------------------------------------

SECONDS_PER_HOUR = 3600.0
JOULES_PER_KCAL = 4184.0
"""Thermochemical calorie, exact by definition."""

MOLAR_VOLUME_L = 22.414
"""Litres for each mole at 0 C and 101.325 kPa (CODATA, rounded)."""

O2_G_PER_MOL = 31.998
CO2_G_PER_MOL = 44.009

VAPORISATION_J_PER_KG = 2.501e6
"""Latent heat of water at 0 C (READ; a reference library agrees to a thousandth).

A sublimator is fed with liquid water, which freezes and then sublimates. Freezing releases as much heat as melting takes, so
each kilogram takes away the heat of vaporisation alone.
"""

# -- physiology ---------------------------------------------------------------------------------------------------------

WEIR_O2_KCAL_PER_L = 3.941
WEIR_CO2_KCAL_PER_L = 1.106
"""J. B. de V. Weir, J Physiol 109:1 (1949), MEMORY; the rounded 3.9 and 1.1 READ."""

QUOTIENT_FOR_OXYGEN = 0.86
QUOTIENT_FOR_CO2 = 0.95
"""Respiratory quotient, litres of CO2 given off for each litre of O2 taken up: 0.86 nominal, 0.95 in aerobic work.

BVAD pp. 58-59, READ. Work in a suit lies between the two, so each consumable has the one that uses more of it: 2 % more oxygen,
7 % more CO2."""

WORKLOAD_W: dict[str, float] = {"rest": 154.0, "light": 205.0, "moderate": 284.0, "heavy": 457.0}
"""Metabolic rate by word.

- rest: 525 Btu/h, the middle between the two low rates of MISHAP; on the first drive of Apollo 17 EVA-1 the trace of either crew
  member shows 550 and 521 Btu/h (COMPUTED). A mean of all riding, 123 kcal/h or 143 W, is MEMORY.
- light: 700 Btu/h, the higher of the two low rates (MISHAP).
- moderate: between the Skylab mean, 238 kcal/h or 277 W (READ second-hand), and 1000 Btu/h or 293 W (MISHAP). Means of Apollo 17
  EVA-1 and EVA-3: 929 to 1090 Btu/h (ALSJ).
- heavy: 1560 Btu/h, the rate of the Apollo 17 plan for a short walk back, 20 % margin included (ALSJ, 143:23:45). A suit must
  bear 1600 Btu/h for an hour (MISHAP).
"""

DEFAULT_WORKLOAD = "moderate"
"""Of a task that gives none. Whole sorties average moderate work. Our own choice for a single task."""

IDLE_WORKLOAD = "light"
"""Of a lane that waits, standing in a suit. Our own choice."""

# -- the suit -----------------------------------------------------------------------------------------------------------

O2_LEAK_KG_PER_H = 0.017
"""Oxygen that the suit loses beyond breathing. Our own choice, on the safe side of BVAD.

BVAD 5.2.2 gives 0.005 (READ second-hand). With it, the oxygen of Apollo 16 EVA-2 (1.22 lb used, ALSJ) comes out 17 % too low
from the mean rate of its crew member (MEMORY), and the gauges of two sorties fall faster than the model. 0.017 makes up for both.
It costs a suit of 1.217 lb about 50 of the 420 minutes that 0.005 promises at 1000 Btu/h.
"""

BATTERY_W = 69.0
"""Electrical load at any workload; assumed for the suit of a plan, so it sets no limit.

The battery of the Shuttle and Station suit gives 3.8 A on average for 7 h, at 20.5 to 16.0 V: 61 to 78 W, here the middle
(NTRS 20050217305 and SAE 1999-01-1998, abstracts, READ). The Apollo suit had 390 Wh for 8 h: 49 W (READ second-hand).
"""

SUIT_HEAT_W = BATTERY_W
"""All electrical power ends as heat that the cooling must carry away."""

ENVIRONMENT_HEAT_W = 126.0
"""Net heat from the surroundings that the cooling must also carry away; it differs from sortie to sortie.

Mean over both crew of Apollo 17 EVA-1 and EVA-3 of what their feedwater carried away beyond their mean metabolic rates and
`SUIT_HEAT_W` (ALSJ). For a single one of the four it was 92 to 155 W. The check fits it anew, and judges each sortie by the
heat that the others give.
"""

# -- readings -----------------------------------------------------------------------------------------------------------

KNOWN_WITHIN_SHARE = 0.02
"""How well an amount is known, share of what was loaded. Our own choice: gauges were called down by one or two per cent."""

TOLERATED_RISE_SHARE = 0.001
"""Rise between two readings that is only rounding, share of what was loaded. Our own choice."""

JUMP_FACTOR = 2.5
JUMP_SHARE = KNOWN_WITHIN_SHARE
"""A fall is more than any workload explains beyond `JUMP_FACTOR` times the modelled use plus `JUMP_SHARE` of what was loaded.

Our own choice. The highest task rate published, 500 kcal/h (READ in an abstract), is 2.0 times moderate work.
"""

STALE_AFTER_MIN = 60.0
"""Minutes after which a reading is too old. Our own choice: twice the usual half hour between two readings."""

SHOWS_USE_SHARE = 0.05
"""Share of what was loaded that must be used before a reading replaces an assumed rate. Our own choice."""

READINGS_FOR_HALF_TRUST = 2.0
"""Readings at which the model and the use so far weigh the same. Our own choice: after one reading the use weighs a third."""

RATE_SPREAD_WITHOUT_READINGS = 0.15
"""Standard deviation of the logarithm of the rate before any reading. Published totals differ from plan words by 2 to 18 %."""

LEAST_RATE_SPREAD = 0.04
"""The same after many readings. Our own choice: use changes within a sortie."""

Origin = Literal["published", "fitted to published sorties", "own choice"]

ORIGIN: dict[str, Origin] = {
    "SECONDS_PER_HOUR": "published",
    "JOULES_PER_KCAL": "published",
    "MOLAR_VOLUME_L": "published",
    "O2_G_PER_MOL": "published",
    "CO2_G_PER_MOL": "published",
    "VAPORISATION_J_PER_KG": "published",
    "WEIR_O2_KCAL_PER_L": "published",
    "WEIR_CO2_KCAL_PER_L": "published",
    "QUOTIENT_FOR_OXYGEN": "published",
    "QUOTIENT_FOR_CO2": "published",
    "WORKLOAD_W": "published",
    "DEFAULT_WORKLOAD": "own choice",
    "IDLE_WORKLOAD": "own choice",
    "O2_LEAK_KG_PER_H": "own choice",
    "BATTERY_W": "published",
    "SUIT_HEAT_W": "published",
    "ENVIRONMENT_HEAT_W": "fitted to published sorties",
    "KNOWN_WITHIN_SHARE": "own choice",
    "TOLERATED_RISE_SHARE": "own choice",
    "JUMP_FACTOR": "own choice",
    "JUMP_SHARE": "own choice",
    "STALE_AFTER_MIN": "own choice",
    "SHOWS_USE_SHARE": "own choice",
    "READINGS_FOR_HALF_TRUST": "own choice",
    "RATE_SPREAD_WITHOUT_READINGS": "fitted to published sorties",
    "LEAST_RATE_SPREAD": "own choice",
}
"""Constant -> where its value comes from. A check against a source fails when one that is not our own choice is changed much."""
