"""The suit budget, by hand."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.plan.model import Consumable
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.expected import DRAWS, SEED, expect
from dashboard.core.schedule.plan_pace import project
from dashboard.core.state.follow import follow
from dashboard.core.suits.budget import (
    UseFrom,
    budgets,
    limit_draws,
    pet_when_used,
    rate_origin,
    use_between,
    workload_of_lane,
)
from dashboard.core.suits.constants import LEAST_RATE_SPREAD, RATE_SPREAD_WITHOUT_READINGS, WORKLOAD_W
from dashboard.core.suits.physiology import SOURCES, Rate, default_rates
from tests.core.suits.suited import BEGUN, BOTH, SUITED, WATER, WORK, budget_of, suit_of
from tests.scenario import at, follow_at, log_of, plan_of, task


def test_without_a_reading_what_is_left_is_what_was_loaded_less_modelled_use():
    """0.6 kg an hour: at 1:00 3.4 kg are left, 1.2 needed to 3:00, the reserve reached at 1:00 + 3.0 / 0.6 h = 6:00."""
    water = suit_of().consumables["water"]
    assert water.reading is None
    assert water.left == pytest.approx(3.4)
    assert budget_of()["A", "water"].need == pytest.approx(1.2)
    assert water.reserve_reached_pet_min == pytest.approx(360)
    assert water.margin_plan_pace_min == pytest.approx(180)


def test_need_and_margin_are_against_the_expected_end_and_the_plan_pace_one_stands_second():
    """0.6 kg an hour to the P50; at plan pace the suits are against 3:00, with and without draws."""
    plan = plan_of(SUITED + BOTH + WORK)
    state = follow_at(plan, BEGUN, "1:00")
    p50, water = state.end.p50_pet_min, state.suits["A"].consumables["water"]
    assert p50 > 181
    assert water.need == pytest.approx(0.6 * (p50 - 60) / 60)
    assert water.margin_min == pytest.approx(360 - p50)
    assert (state.suits["A"].margin_min, state.suits["A"].margin_plan_pace_min) == (water.margin_min, pytest.approx(180))
    assert water.need_p90 == pytest.approx(0.6 * (state.end.p90_pet_min - 60) / 60)
    undrawn = follow(plan, log_of(BEGUN), parse_instant(at("1:00")), draws=0).suits["A"]
    assert (undrawn.margin_min, undrawn.margin_plan_pace_min) == (pytest.approx(180), pytest.approx(180))


def test_past_the_plan_pace_end_use_goes_on_at_the_mean_rate_of_what_was_to_come():
    """An hour of work at 400 W is still to come: who is not in by then is still at it, and does not wait."""
    suits = '[[suit]]\nid = "A"\n[suit.water]\nloaded = 4.0\nreserve = 0.0\nbase = 0\nper_watt = 0.001\n'
    work = task("A", "EV1", 0, 120, workload=400)
    water = budget_of("0:00 clock\n0:00 start A", "1:00", suits, work)["A", "water"]
    assert water.reserve_reached_pet_min == pytest.approx(60 * 4.0 / 0.4)


def test_left_is_the_last_reading_less_use_since():
    """A reading as modelled at 0:30, half an hour later 0.3 kg less; the correction stays at 1."""
    water = suit_of(BEGUN + "\n0:30 reading A water=3.7").consumables["water"]
    assert water.left == pytest.approx(3.4)
    assert water.factor == pytest.approx(1.0)
    assert water.reading_pet_min == 30


def test_the_correction_is_shrunk_by_how_few_readings_there_are():
    """Twice the modelled use: 2^(1/3) after one reading, 2^(1/2) after two, 2^(4/6) after four."""
    for count, trust in ((1, 1 / 3), (2, 1 / 2), (4, 2 / 3)):
        lines = "".join(f"\n{15 * (i + 1)} reading A water={4.0 - 0.3 * (i + 1)}" for i in range(count))
        water = suit_of(BEGUN + lines, "1:00").consumables["water"]
        assert water.factor == pytest.approx(2**trust)
        last = 4.0 - 0.3 * count
        assert water.left == pytest.approx(last - 0.6 * 2**trust * (60 - 15 * count) / 60)


def test_the_need_and_the_reserve_follow_the_corrected_rate():
    """After one reading of twice the use: 0.6 x 2^(1/3) an hour from now on."""
    water = suit_of(BEGUN + "\n1:00 reading A water=2.8").consumables["water"]
    rate = 0.6 * 2 ** (1 / 3)
    assert water.left == pytest.approx(2.8)
    assert budget_of(BEGUN + "\n1:00 reading A water=2.8")["A", "water"].need == pytest.approx(2 * rate)
    assert water.reserve_reached_pet_min == pytest.approx(60 + 60 * (2.8 - 0.4) / rate)


def test_readings_narrow_the_spread_of_the_rate_but_never_to_nothing():
    """15 % without, 12 % after one, never under 4 %."""
    spreads = []
    for count in (0, 1, 4, 50):
        lines = "".join(f"\n{i + 2} reading A water={4.0 - 0.01 * (i + 2)}" for i in range(count))
        spreads.append(budget_of(BEGUN + lines)["A", "water"].spread)
    assert spreads[0] == RATE_SPREAD_WITHOUT_READINGS
    assert spreads[1] == pytest.approx(RATE_SPREAD_WITHOUT_READINGS * math.sqrt(2 / 3))
    assert spreads == sorted(spreads, reverse=True)
    assert spreads[3] == LEAST_RATE_SPREAD


def test_the_limiting_consumable_is_the_one_that_runs_out_first():
    """Water by 6:00; with the battery at 130 Wh, read twice, it is the battery: 90 Wh above the reserve at the use so far."""
    assert suit_of().limiting == "water"
    low = suit_of(BEGUN + "\n0:50 reading A battery=145\n1:00 reading A battery=130")
    assert low.limiting == "battery"
    factor = (320 / 60) ** (2 / 4)
    assert low.limit_pet_min == pytest.approx(60 + 90 / factor)
    assert low.margin_plan_pace_min == pytest.approx(60 + 90 / factor - 180)


def test_the_suit_that_ends_first_sets_the_limit_of_the_pair():
    """When it comes before limit less reserve (6:30); else that stands."""
    plan = plan_of(SUITED + BOTH + WORK)
    state = follow_at(plan, BEGUN, "1:00")
    assert (state.limit.pet_min, state.limit.set_by) == (pytest.approx(360), "suit A water")
    assert state.end.margin_min == pytest.approx(180)
    full = BOTH.replace("loaded = 4.0", "loaded = 9.0").replace("loaded = 450", "loaded = 900")
    rich = follow_at(plan_of(SUITED + full + WORK), BEGUN, "1:00")
    assert (rich.limit.pet_min, rich.limit.set_by) == (390, "planned limit less reserve")


def test_what_each_task_costs_is_its_workload():
    """The lane's own work at its watts, waiting at the light rate, through a hold and into what is projected."""
    work = task("A", "EV1", 0, 40, workload=400) + task("B", "EV1", 40, 30, workload="rest")
    log = "0:00 clock\n0:10 start A\n0:30 hold A\n0:40 resume A"
    record = reconcile(plan_of(SUITED + BOTH + work), log_of(log), parse_instant(at("0:50")))
    pieces = workload_of_lane(record, project(record), "EV1", 120.0)
    light, rest = WORKLOAD_W["light"], WORKLOAD_W["rest"]
    assert pieces == [
        (0.0, 10, light), (10, 30, 400.0), (30, 40, light), (40, 50, 400.0), (50, 60, 400.0), (60, 90, rest),
        (90, 120.0, light), (120.0, math.inf, (10 * 400 + 30 * rest + 30 * light) / 70),
    ]
    rate = default_rates()["oxygen"]
    by_hand = (20 * light + 40 * 400 + 30 * rest + 30 * light) / 60 * rate.per_watt + 2 * rate.base
    assert use_between(pieces, rate, 0, 120) == pytest.approx(by_hand)
    assert pet_when_used(pieces, rate, 0, by_hand) == pytest.approx(120)
    half = use_between(pieces, rate, 0, 55)
    assert pet_when_used(pieces, rate, 0, half) == pytest.approx(55)


def test_use_from_one_pet_on_is_use_between_to_the_last_bit():
    """Whatever lies between the pieces, and wherever the use begins and ends."""
    dice = random.Random(1)
    for _ in range(200):
        marks = sorted(dice.uniform(0, 400) for _ in range(12))
        worked = [(a, b, dice.uniform(100, 500)) for a, b in zip(marks[::2], marks[1::2], strict=True)]
        pieces = [*worked, (marks[-1], math.inf, 200)]
        rate, begin = Rate(dice.uniform(0, 1), dice.choice([0.0, 0.003])), dice.uniform(0, 500)
        use = UseFrom(pieces, rate, begin)
        for end in (begin, *(mark for mark in marks if mark > begin), dice.uniform(begin, 600)):
            assert use.until(end) == use_between(pieces, rate, begin, end)


def test_a_plan_may_give_its_own_rate_for_a_part_of_it():
    """`base` from the plan, `per_watt` from physiology."""
    suits = '[[suit]]\nid = "A"\n[suit.oxygen]\nloaded = 1.0\nbase = 0.02\n'
    work = task("A", "EV1", 0, 120, workload=300)
    oxygen = suit_of("0:00 clock\n0:00 start A", "1:00", suits, work).consumables["oxygen"]
    assert 1.0 - oxygen.left == pytest.approx(0.02 + 300 * default_rates()["oxygen"].per_watt)


def test_a_suit_below_its_reserve_raises_an_alert_of_its_own():
    """Since when, and what to do; until the crew is in. At the reserve itself none stands."""
    thirsty = plan_of(SUITED + BOTH.replace("loaded = 4.0", "loaded = 0.6", 1) + WORK)

    def below(log, pet):
        return [alert for alert in follow_at(thirsty, log, pet).alerts if alert.id.startswith("below-reserve")]

    assert below(BEGUN, "0:20") == []
    (alert,) = below(BEGUN, "0:30")
    assert alert.id == "below-reserve-A-water"
    assert "Suit A (EV1) is below its reserve of water" in alert.what and "Turn back now" in alert.do
    assert alert.since_pet_min == pytest.approx(20)
    assert below(BEGUN + "\n0:25 reading A water=0.55", "0:26") == []
    assert below(BEGUN + "\n0:25 reading A water=0.3", "0:26")[0].since_pet_min == 25
    assert below(BEGUN + "\n0:25 reading A water=0.3\n0:40 end", "0:41") == []
    flags = follow_at(thirsty, BEGUN, "0:30").suits["A"].consumables["water"].flags
    assert flags == ["below the reserve"]


def test_an_empty_suit_has_nothing_left_and_its_limit_is_now():
    """Never below zero."""
    water = suit_of(BEGUN + "\n1:00 reading A water=0").consumables["water"]
    assert water.left == 0
    assert water.reserve_reached_pet_min == 60
    assert water.margin_plan_pace_min == -120


def test_in_by_limit_counts_the_planned_limit_and_the_suits():
    """Every draw must be in by 6:30 and by the drawn end of the suit: equal to counting both by hand."""
    work = task("A", "EV1", 0, [250, 290, 400]) + task("S", "EV1", 290, [20, 40, 80])
    plan = plan_of(SUITED + BOTH + work)
    log = "0:00 clock\n0:00 start A\n1:00 reading A water=3.35"
    state = follow_at(plan, log, "1:00")
    record = reconcile(plan, log_of(log), parse_instant(at("1:00")))
    projection = project(record)
    ends = expect(record, projection).end
    suits = limit_draws(budgets(record, projection), 60.0, SEED, DRAWS)
    by_plan, by_suit = ends <= 390, ends <= suits
    assert state.end.in_by_limit == pytest.approx((by_plan & by_suit).mean())
    assert (by_plan & by_suit).mean() < min(by_plan.mean(), by_suit.mean())


def test_the_drawn_limit_of_a_suit_spreads_about_its_reserve_by_the_spread_of_the_rate():
    """Median at the reserve, log-sd of the time left as told."""
    one = budget_of(BEGUN + "\n0:30 reading A water=3.7")["A", "water"]
    drawn = limit_draws({("A", "water"): one}, 60.0, SEED, 20000) - 60.0
    assert np.median(drawn) == pytest.approx(one.reserve_reached_pet_min - 60, rel=0.01)
    assert np.log(drawn).std() == pytest.approx(one.spread, rel=0.03)


def test_suits_that_nobody_wears_have_no_budget():
    """Nothing invented; and the lack is said when there is none at all."""
    plan = plan_of(WATER + task("A", "EV1", 0, 60))
    state = follow_at(plan, "0:00 clock", "0:00")
    assert state.suits["A"].limiting is None
    assert state.suits["A"].consumables["water"].left is None
    assert "suits" in state.not_known


def test_when_the_reserve_is_reached_stands_at_each_consumable_or_a_word_why_not():
    """Each at its own rate, also after the plan (waiting goes on); nothing used is never reached; a spare suit has none."""
    suits = BOTH + "[suit.battery]\nloaded = 100\nbase = 0\nper_watt = 0\n" + WATER.replace('"A"', '"C"')
    state = follow_at(plan_of(SUITED + suits + WORK), BEGUN, "1:00")
    reached = {(s, n): c.reserve_reached_pet_min for s, suit in state.suits.items() for n, c in suit.consumables.items()}
    assert reached == {
        ("A", "water"): pytest.approx(360), ("A", "battery"): pytest.approx(410),
        ("B", "water"): pytest.approx(60 * 3.6 / 0.5), ("B", "battery"): None, ("C", "water"): None,
    }
    said = {key: why for key, why in state.not_known.items() if key.startswith("suits.")}
    assert said == {
        "suits.B.consumables.battery.reserve_reached_pet_min": "never reached: no use is modelled",
        "suits.C.consumables.water.reserve_reached_pet_min": "nobody wears this suit",
    }
    assert state.suits["B"].limiting == "water"


def test_the_time_that_the_reserve_is_reached_is_where_left_meets_it():
    """Followed at that very time with no further reading, what is left is the reserve."""
    log = BEGUN + "\n0:30 reading A water=3.6"
    first = suit_of(log, "1:00").consumables["water"]
    then = suit_of(log, first.reserve_reached_pet_min).consumables["water"]
    assert then.left == pytest.approx(then.reserve, abs=1e-6)


def test_a_rate_names_where_it_comes_from():
    """The plan's own, a default with its source, or both."""
    assert rate_origin("water", Consumable(loaded=4, reserve=0.4, base=0.6, per_watt=0)) == "rate of the plan"
    assert rate_origin("oxygen", Consumable(loaded=0.5)) == f"default rate from {SOURCES['oxygen']}"
    assert rate_origin("battery", Consumable(loaded=450, reserve=40)).startswith(f"assumed from {SOURCES['battery']}")
    assert rate_origin("water", Consumable(loaded=4, reserve=0.4, base=0.6)).startswith("rate of the plan in part, else")


def test_a_rise_and_an_empty_tank_say_nothing_of_use():
    """The correction is that of the readings before them; neither makes the outlook rosier."""
    before = suit_of(BEGUN + "\n0:30 reading A water=3.6", "1:00").consumables["water"]
    risen = suit_of(BEGUN + "\n0:30 reading A water=3.6\n0:50 reading A water=3.62", "1:00").consumables["water"]
    empty = suit_of(BEGUN + "\n0:30 reading A water=3.6\n0:50 reading A water=0", "1:00").consumables["water"]
    assert risen.flags == ["a reading rises"]
    assert risen.factor == pytest.approx(before.factor) and empty.factor == pytest.approx(before.factor)
    assert empty.left == 0
