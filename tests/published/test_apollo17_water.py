"""Cooling water of Apollo 17, first and third sortie, from metabolic rate alone.

Sources, all READ:

- Metabolic rate: half-hourly means of a third-party digitised trace of both crew members (clipped below about 200 Btu/h),
  COMPUTED from it by linear interpolation. Their means agree with the published ones of the Mission Report within 3.3 %.
- Feedwater loaded and used, time of the low-water tone: Apollo 17 Mission Report (JSC-07904), table 9-II, as tabulated in
  the Apollo Lunar Surface Journal, 121:57:30. The tone means that the primary tank of 8.5 lb is empty. Its time counts from the
  start of cooling, which lies at most 7 min after PET zero (7:05 to 7:09 of cooling in 7:12 and 7:15 of sortie).
- Length of the sorties: 7:11:53 and 7:15:08.

`ENVIRONMENT_HEAT_W` is the mean over both sorties (`test_suit_constants.py` fits it anew and leaves each sortie out in turn).
Measured, with the half-hourly rates as workload; the model has too much on the first sortie, too little on the third:

=============  ==========  ==========  =======  =============  ==============
sortie, crew   used, lb    model, lb   error    tone           model
=============  ==========  ==========  =======  =============  ==============
1, CDR         11.23       12.01       +7.0 %   4:58           4:48
1, LMP         10.86       11.68       +7.6 %   4:53           5:08
3, CDR         11.36       11.01       -3.1 %   5:45           5:58
3, LMP         11.52       10.74       -6.7 %   5:33           6:03
=============  ==========  ==========  =======  =============  ==============

Left at the end, lb, as forecast at the moment of the tone, without and with the tone taken as a reading, and as it was: 1 CDR
0.18, 0.62, 0.96; 1 LMP 0.44, 0.17, 1.26 (worse with it: use fell after the tone); 3 CDR 1.78, 1.60, 1.43; 3 LMP 1.98, 1.45, 1.20.
So after one reading the total is off by +3, +10, -2 and -2 % of what was used: three of four within 4 %, the fourth on the safe
side.
"""

from __future__ import annotations

import math
from functools import cache

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project
from dashboard.core.suits.budget import (
    budgets,
    pet_when_used,
    use_between,
    workload_of_lane,
)
from dashboard.core.suits.physiology import Rate, default_rates
from tests.scenario import at, log_of, plan_of

KG_PER_LB = 0.45359237
W_PER_BTU_H = 0.29307107
PRIMARY_LB = 8.5
LENGTH_MIN = {1: 7 * 60 + 11 + 53 / 60, 3: 7 * 60 + 15 + 8 / 60}
TRACE_BTU_H = {  # means of half hours from PET zero; the last piece is shorter
    (1, "CDR"): (908, 973, 1237, 1241, 1252, 1384, 1197, 1599, 1543, 963, 721, 688, 836, 1115, 1510),
    (1, "LMP"): (884, 1181, 1072, 1516, 1093, 790, 1200, 1251, 1358, 830, 1099, 847, 982, 1105, 849),
    (3, "CDR"): (854, 582, 478, 960, 1124, 919, 646, 1388, 957, 822, 836, 836, 1244, 1448, 1862),
    (3, "LMP"): (1092, 662, 838, 1050, 865, 695, 1137, 1284, 326, 866, 764, 532, 1371, 1043, 1842),
}
WATER_LB = {  # loaded, used
    (1, "CDR"): (12.19, 11.23), (1, "LMP"): (12.12, 10.86), (3, "CDR"): (12.79, 11.36), (3, "LMP"): (12.72, 11.52),
}
TONE_MIN = {(1, "CDR"): 298, (1, "LMP"): 293, (3, "CDR"): 345, (3, "LMP"): 333}  # after the start of cooling
MEASURED = {  # error of the water used; tone of the model, minutes
    (1, "CDR"): (0.070, 288), (1, "LMP"): (0.076, 308), (3, "CDR"): (-0.031, 358), (3, "LMP"): (-0.067, 363),
}
EACH = pytest.mark.parametrize(("sortie", "crew"), TRACE_BTU_H)
THIRD = pytest.mark.parametrize(("sortie", "crew"), [(3, "CDR"), (3, "LMP")])


@cache
def plan_for(sortie: int):
    """A task for every half hour of each crew member, with its mean rate as workload."""
    text = (
        '[sortie]\nid = "apollo17"\nstart = 2031-04-12T09:10:00Z\nlimit = "8:00"\n'
        + "".join(f'[[lane]]\nid = "{crew}"\nkind = "crew"\nsuit = "{crew}"\n' for crew in ("CDR", "LMP"))
    )
    for crew in ("CDR", "LMP"):
        text += f'[[suit]]\nid = "{crew}"\n[suit.water]\nloaded = {WATER_LB[sortie, crew][0] * KG_PER_LB}\n'
        for i, rate in enumerate(TRACE_BTU_H[sortie, crew]):
            minutes = min(30.0, LENGTH_MIN[sortie] - 30 * i)
            text += (
                f'[[task]]\nid = "{crew}-{i}"\nlanes = ["{crew}"]\nstart = {30 * i}\nduration = {minutes}\n'
                f"workload = {rate * W_PER_BTU_H}\n"
            )
    return plan_of(text)


def log_to_the_end(sortie: int, reading: str = ""):
    """Every half hour of both begun and done on time."""
    lines = ["0:00 clock"]
    for crew in ("CDR", "LMP"):
        for i in range(len(TRACE_BTU_H[sortie, crew])):
            lines += [f"{30 * i} start {crew}-{i}", f"{min(30.0 * (i + 1), LENGTH_MIN[sortie])} done {crew}-{i}"]
    return log_of("\n".join([*lines, *([reading] if reading else [])]))


def budget(sortie: int, crew: str, reading: str = "", pet: float | None = None):
    now = LENGTH_MIN[sortie] if pet is None else pet
    record = reconcile(plan_for(sortie), log_to_the_end(sortie, reading), parse_instant(at(now)))
    projection = project(record)
    pieces = workload_of_lane(record, projection, crew, LENGTH_MIN[sortie])
    return budgets(record, projection)[crew, "water"], pieces


def tone_as_reading(sortie: int, crew: str) -> str:
    """The low-water tone as a line of the log: what is left is what was loaded beyond the primary tank."""
    left_kg = (WATER_LB[sortie, crew][0] - PRIMARY_LB) * KG_PER_LB
    return f"{TONE_MIN[sortie, crew] + 6.0} reading {crew} water={left_kg}"


def error_of_use(sortie: int, crew: str) -> float:
    one, _ = budget(sortie, crew)
    return (one.loaded - one.left) / KG_PER_LB / WATER_LB[sortie, crew][1] - 1


@EACH
def test_water_used_is_off_by_what_the_table_says(sortie, crew):
    """By no more than 8 %: to half a per cent as measured."""
    assert abs(error_of_use(sortie, crew)) < 0.08
    assert error_of_use(sortie, crew) == pytest.approx(MEASURED[sortie, crew][0], abs=5e-3)


@EACH
def test_the_low_water_tone_of_the_model(sortie, crew):
    """From 17 minutes before the real one to 23 after it, the later start of cooling allowed for: the table, to a minute."""
    _, pieces = budget(sortie, crew)
    tone = pet_when_used(pieces, default_rates()["water"], 0.0, PRIMARY_LB * KG_PER_LB)
    assert tone == pytest.approx(MEASURED[sortie, crew][1], abs=1.0)
    assert -18 < tone - (TONE_MIN[sortie, crew] + 7) < 23


@pytest.mark.parametrize(
    ("sortie", "crew", "error"), [(1, "CDR", 0.030), (1, "LMP", 0.100), (3, "CDR", -0.015), (3, "LMP", -0.022)]
)
def test_total_after_one_reading(sortie, crew, error):
    """Forecast at the tone with the tone as the only reading: within 4 % for three of four, 10 % too much for the fourth."""
    loaded, used = WATER_LB[sortie, crew]
    one, _ = budget(sortie, crew, tone_as_reading(sortie, crew), TONE_MIN[sortie, crew] + 6.1)
    total = loaded - (one.left - one.need) / KG_PER_LB
    assert total / used - 1 == pytest.approx(error, abs=3e-3)
    assert abs(math.log(total / used)) < one.spread


@THIRD
def test_a_reading_at_the_tone_brings_the_end_nearer(sortie, crew):
    """What is left at the end, forecast at the tone, against what was left: less than half as far off as without it.

    On the first sortie it does not help the LMP (see the top).
    """
    loaded, used = WATER_LB[sortie, crew]
    left = {}
    for name, line in (("without", ""), ("with", tone_as_reading(sortie, crew))):
        one, _ = budget(sortie, crew, line, TONE_MIN[sortie, crew] + 6.1)
        left[name] = (one.left - one.need) / KG_PER_LB
    assert abs(left["with"] - (loaded - used)) < abs(left["without"] - (loaded - used)) / 2


def test_without_heat_from_outside_the_model_would_be_short_everywhere():
    """Metabolic heat alone: 30 to 45 % too little. The term is needed; that it is one number is the weakness."""
    rate = Rate(0.0, default_rates()["water"].per_watt)
    for (sortie, crew), (_, used) in WATER_LB.items():
        _, pieces = budget(sortie, crew)
        short = 1 - use_between(pieces, rate, 0, LENGTH_MIN[sortie]) / KG_PER_LB / used
        assert 0.25 < short < 0.50, (sortie, crew, short)
