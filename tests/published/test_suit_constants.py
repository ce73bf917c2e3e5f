"""The constants of the suits against published sorties and suits, through the budget that a room sees.

Sources, READ unless marked; short names as in `dashboard/core/suits/constants.py`:

- Feedwater and oxygen used: Mission Reports of Apollo 16 (MSC-07230) and 17 (JSC-07904), quoted in the Apollo Lunar Surface
  Journal at 123:32:19 and 143:21:06 (Apollo 16) and 121:57:30 (Apollo 17).
- Lengths of the sorties, and minutes driven: the same journal's transcripts and the Apollo 17 event table.
- Mean metabolic rates of Apollo 17 EVA-1 and EVA-3: Mission Report, same place. Those of Apollo 16: SP-368 ch. 4, from
  memory, in the table below only.
- What the suit of the Shuttle and the Station is made for: MISHAP p. 40. Its tanks: suit data book, sections 2.1.3, 2.1.4 and
  2.5.2.3, second-hand. Its battery: NTRS 20050217305 and SAE 1999-01-1998, abstracts.
- At 90 % of the feedwater used about 45 min are left: the journal, Apollo 17, 148:01:14.
- BVAD 5.2.2, second-hand: oxygen 0.076, water 0.57 kg/h.

Water used, error of the model against the published total; positive is on the safe side (the model uses more). By plan words:
driving is rest, all else moderate. Other sortie: with `ENVIRONMENT_HEAT_W` fitted on the other sortie of Apollo 17 alone.

===========  =========  ===========  ==========  ========================
sortie       used, lb   plan words   mean rate   mean rate, other sortie
===========  =========  ===========  ==========  ========================
16-1 CDR     9.08       +17 %        +13 %
16-1 LMP     11.62      -9 %         -4 %
16-2 CDR     9.48       +12 %        +5 %
16-2 LMP     10.28      +3 %         0 %
16-3 CDR     8.21       -1 %         -5 %
16-3 LMP     8.38       -3 %         -7 %
17-1 CDR     11.23      -5 %         +5 %        +10 %
17-1 LMP     10.86      -2 %         +7 %        +13 %
17-3 CDR     11.36      -10 %        -5 %        -11 %
17-3 LMP     11.52      -11 %        -6 %        -12 %
===========  =========  ===========  ==========  ========================

Mean rates from MEMORY stand behind that column in the rows of the earlier mission: for a person, no test holds them. Two crew
members of one sortie with one plan differ by 28 % (Apollo 16 EVA-1), so no plan can meet both within 12 %.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project
from dashboard.core.suits import physiology
from dashboard.core.suits.budget import every_budget
from dashboard.core.suits.constants import (
    BATTERY_W,
    ENVIRONMENT_HEAT_W,
    RATE_SPREAD_WITHOUT_READINGS,
    SECONDS_PER_HOUR,
    SUIT_HEAT_W,
    VAPORISATION_J_PER_KG,
    WORKLOAD_W,
)
from tests.scenario import at, log_of, plan_of

KG_PER_LB = 0.45359237
W_PER_BTU_H = 0.29307107
W_PER_KCAL_H = 4184 / 3600
LENGTH_MIN = {"16-1": 431 + 2 / 60, "16-2": 443.15, "16-3": 340.05, "17-1": 431 + 53 / 60, "17-3": 435 + 8 / 60}
DRIVEN_MIN = {"16-1": 43.9, "16-2": 92.1, "16-3": 74.2, "17-1": 37.7, "17-3": 118.6}
WATER_LB = {
    ("16-1", "CDR"): 9.08, ("16-1", "LMP"): 11.62, ("16-2", "CDR"): 9.48, ("16-2", "LMP"): 10.28, ("16-3", "CDR"): 8.21,
    ("16-3", "LMP"): 8.38, ("17-1", "CDR"): 11.23, ("17-1", "LMP"): 10.86, ("17-3", "CDR"): 11.36, ("17-3", "LMP"): 11.52,
}
MEAN_READ_W = {
    ("17-1", "CDR"): 1090 * W_PER_BTU_H, ("17-1", "LMP"): 1074 * W_PER_BTU_H,
    ("17-3", "CDR"): 929 * W_PER_BTU_H, ("17-3", "LMP"): 942 * W_PER_BTU_H,
}
EACH = pytest.mark.parametrize(("sortie", "crew"), WATER_LB)
SUIT_MADE_FOR = ((1000, 7.0), (850, 8.0))  # Btu/h, hours


def need_kg(name: str, *work: tuple[float, float | str]) -> float:
    """What the budget says at PET zero that a sortie of some pieces of work needs. Minutes and workload of each piece."""
    text = (
        '[sortie]\nid = "s"\nstart = 2031-04-12T09:10:00Z\nlimit = "10:00"\n[[lane]]\nid = "EV1"\nkind = "crew"\nsuit = "A"\n'
        f'[[suit]]\nid = "A"\n[suit.{name}]\nloaded = 1000\n'
    )
    begin = 0.0
    for i, (minutes, load) in enumerate(work):
        said = f'"{load}"' if isinstance(load, str) else str(load)
        text += f'[[task]]\nid = "T{i}"\nlanes = ["EV1"]\nstart = {begin}\nduration = {minutes}\nworkload = {said}\n'
        begin += minutes
    record = reconcile(plan_of(text), log_of("0:00 clock"), parse_instant(at(0)))
    return every_budget(record, project(record))["A", name].need


def per_hour(name: str, load: float | str) -> float:
    return need_kg(name, (60.0, load))


def by_plan_words(name: str, sortie: str) -> float:
    """Pounds that a sortie needs by its plan: rest while driving, else moderate."""
    driven = DRIVEN_MIN[sortie]
    return need_kg(name, (driven, "rest"), (LENGTH_MIN[sortie] - driven, "moderate")) / KG_PER_LB


def by_mean_rate(name: str, sortie: str, watts: float) -> float:
    return need_kg(name, (LENGTH_MIN[sortie], watts)) / KG_PER_LB


def other_heat_w(sortie: str, crew: str, metabolic_w: float) -> float:
    """Heat beyond the metabolic that the feedwater of a published sortie carried away."""
    carried = WATER_LB[sortie, crew] * KG_PER_LB / (LENGTH_MIN[sortie] / 60) * VAPORISATION_J_PER_KG / SECONDS_PER_HOUR
    return carried - metabolic_w


# -- metabolic rates ----------------------------------------------------------------------------------------------------


def test_rest_lies_where_riding_was_measured():
    """Between the low rates of the suit (350 and 700 Btu/h), 7 % at most from two drives of Apollo 17 EVA-1 (550, 521 Btu/h)."""
    assert 350 < WORKLOAD_W["rest"] / W_PER_BTU_H < 700
    for measured in (550, 521):
        assert WORKLOAD_W["rest"] == pytest.approx(measured * W_PER_BTU_H, rel=0.07)


def test_light_work_is_the_higher_of_the_low_rates_of_the_suit():
    """700 Btu/h, within 2 %."""
    assert WORKLOAD_W["light"] == pytest.approx(700 * W_PER_BTU_H, rel=0.02)


def test_moderate_work_is_the_mean_of_published_sorties():
    """Within 4 % of what the suit is made for (1000 Btu/h), of Skylab's 238 kcal/h and of four means of Apollo 17."""
    for mean in (1000 * W_PER_BTU_H, 238 * W_PER_KCAL_H, np.mean(list(MEAN_READ_W.values()))):
        assert WORKLOAD_W["moderate"] == pytest.approx(mean, rel=0.04)


def test_heavy_work_is_a_fast_walk_back():
    """1560 Btu/h of the Apollo 17 plan, within 2 %; a suit bears 1600 Btu/h for an hour; published tasks end at 500 kcal/h."""
    assert WORKLOAD_W["heavy"] == pytest.approx(1560 * W_PER_BTU_H, rel=0.02)
    assert WORKLOAD_W["heavy"] <= 1600 * W_PER_BTU_H < 500 * W_PER_KCAL_H


# -- water --------------------------------------------------------------------------------------------------------------


@EACH
def test_water_from_plan_words_alone(sortie, crew):
    """Nine of ten within 15 %. The tenth, the CDR on Apollo 16 EVA-1, used 17 % less: on the safe side."""
    error = by_plan_words("water", sortie) / WATER_LB[sortie, crew] - 1
    assert -0.15 < error < (0.175 if (sortie, crew) == ("16-1", "CDR") else 0.15)


@pytest.mark.parametrize("sortie", LENGTH_MIN)
def test_water_of_both_crew_from_plan_words(sortie):
    """The mean of the two crew members, who have one plan: within 11 % for each sortie."""
    used = np.mean([lb for (of, _), lb in WATER_LB.items() if of == sortie])
    assert by_plan_words("water", sortie) == pytest.approx(used, rel=0.11)


@pytest.mark.parametrize(("sortie", "crew"), MEAN_READ_W)
def test_water_from_published_mean_rates(sortie, crew):
    """Within 8 %: 5 and 7 % too much on the first sortie, 5 and 6 % too little on the third."""
    model = by_mean_rate("water", sortie, MEAN_READ_W[sortie, crew])
    assert model == pytest.approx(WATER_LB[sortie, crew], rel=0.08)
    assert (model > WATER_LB[sortie, crew]) == (sortie == "17-1")


def test_the_heat_of_the_surroundings_is_the_mean_of_the_published_sorties():
    """Refitted here to a watt, over the same lengths as it is used with; for single crew members it is 92 to 155 W."""
    heats = [other_heat_w(*who, watts) - SUIT_HEAT_W for who, watts in MEAN_READ_W.items()]
    assert pytest.approx(np.mean(heats), abs=1.0) == ENVIRONMENT_HEAT_W
    assert (round(min(heats)), round(max(heats))) == (92, 155)


@pytest.mark.parametrize(("sortie", "other"), [("17-1", "17-3"), ("17-3", "17-1")])
def test_a_sortie_judged_by_the_heat_of_the_other_one(sortie, other, monkeypatch):
    """10 and 13 % too much on the first, 11 and 12 % too little on the third: the spread covers it, the bar of 8 % is not met."""
    heat = np.mean([other_heat_w(*who, watts) for who, watts in MEAN_READ_W.items() if who[0] == other])
    monkeypatch.setattr(physiology, "ENVIRONMENT_HEAT_W", heat - SUIT_HEAT_W)
    for who, watts in MEAN_READ_W.items():
        if who[0] == sortie:
            assert abs(math.log(by_mean_rate("water", sortie, watts) / WATER_LB[who])) < RATE_SPREAD_WITHOUT_READINGS


def test_the_spread_covers_the_errors_of_plan_words_and_is_not_far_wider():
    """All ten within 1.1 standard deviations, their root mean square over half of one."""
    errors = [math.log(by_plan_words("water", sortie) / lb) for (sortie, _), lb in WATER_LB.items()]
    assert max(map(abs, errors)) < 1.1 * RATE_SPREAD_WITHOUT_READINGS
    assert 0.5 < math.sqrt(np.mean(np.square(errors))) / RATE_SPREAD_WITHOUT_READINGS < 1


def test_ninety_per_cent_of_the_feedwater_leave_about_45_minutes():
    """Of the water loaded on Apollo 17 a tenth lasts 48 to 51 min at moderate work: 3 to 6 min more than the rule of thumb."""
    for loaded_lb in (12.19, 12.12, 12.79, 12.72):
        left = 60 * 0.1 * loaded_lb * KG_PER_LB / per_hour("water", "moderate")
        assert left == pytest.approx(45, rel=0.13)


def test_water_at_moderate_work_is_above_the_rate_for_planning():
    """0.57 kg/h (BVAD); ours 21 % more, on the safe side: its heat from outside is that of sorties by day on the Moon."""
    assert per_hour("water", "moderate") / 0.57 - 1 == pytest.approx(0.21, abs=0.015)


# -- oxygen, CO2, battery -----------------------------------------------------------------------------------------------


def test_oxygen_of_apollo_16_eva_2():
    """1.22 lb used by the CDR; by plan words 9 % more, on the safe side."""
    assert by_plan_words("oxygen", "16-2") / 1.22 - 1 == pytest.approx(0.09, abs=0.01)


def test_oxygen_by_the_gauges_of_two_sorties():
    """First and last gauge reading of each crew member, called out by voice; 1.81 lb for 92 %: 0.081 kg/h; ours 5 % more."""
    per_cent_kg = 1.81 * KG_PER_LB / 92
    fell = (("16-1", 44, 296.9), ("16-1", 60, 297.5), ("16-2", 49, 335.8), ("16-2", 18, 166.3))  # per cent, minutes
    measured = np.mean([60 * per_cent * per_cent_kg / minutes for _, per_cent, minutes in fell])
    model = np.mean([by_plan_words("oxygen", sortie) * KG_PER_LB / LENGTH_MIN[sortie] * 60 for sortie, _, _ in fell])
    assert 0 < model / measured - 1 < 0.08


def test_oxygen_at_moderate_work_is_above_the_rate_for_planning():
    """0.076 kg/h (BVAD); ours 16 % more, on the safe side: the leak of published sorties is the larger one."""
    assert per_hour("oxygen", "moderate") / 0.076 - 1 == pytest.approx(0.16, abs=0.015)


@pytest.mark.parametrize(("name", "tank_lb"), [("oxygen", 1.217), ("water", 10.0), ("co2", 1.48)])
def test_the_tanks_of_a_suit_last_about_as_long_as_it_is_made_for(name, tank_lb):
    """7 h at 1000 Btu/h and 8 h at 850: oxygen and water up to 14 % short of it, on the safe side; CO2 removal up to 5 % more."""
    for btu_h, hours in SUIT_MADE_FOR:
        lasts = tank_lb * KG_PER_LB / per_hour(name, btu_h * W_PER_BTU_H)
        assert 0 < lasts / hours - 1 < 0.05 if name == "co2" else -0.14 < lasts / hours - 1 < 0


def test_the_battery_load_is_that_of_a_published_suit():
    """3.8 A at 16.0 to 20.5 V, which is what the cooling has to carry away as well."""
    assert 3.8 * 16.0 < BATTERY_W < 3.8 * 20.5
    assert SUIT_HEAT_W == BATTERY_W == per_hour("battery", "rest") == per_hour("battery", "heavy")
