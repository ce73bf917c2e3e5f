"""The suit budget and the turn-back time, by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.plan.model import Consumable
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.expected import DRAWS, SEED, expect
from dashboard.core.schedule.plan_pace import project
from dashboard.core.suits.budget import (
    LEAST_RATE_SPREAD,
    RATE_SPREAD_WITHOUT_READINGS,
    budgets,
    limit_draws,
    pet_when_used,
    rate_origin,
    use_between,
    workload_of_lane,
)
from dashboard.core.suits.physiology import SOURCES, WORKLOAD_W, default_rates
from tests.scenario import at, follow_at, log_of, plan_of, task

SUITED = """[sortie]
id = "t"
start = 2031-04-12T09:10:00Z
limit = "7:00"
reserve = 30
[[lane]]
id = "EV1"
kind = "crew"
suit = "A"
[[lane]]
id = "EV2"
kind = "crew"
suit = "B"
"""
WATER = '[[suit]]\nid = "A"\n[suit.water]\nloaded = 4.0\nreserve = 0.4\nbase = 0.6\nper_watt = 0\n'
BATTERY = "[suit.battery]\nloaded = 450\nreserve = 40\nbase = 60\nper_watt = 0\n"
BOTH = WATER + BATTERY + '[[suit]]\nid = "B"\n[suit.water]\nloaded = 4.0\nreserve = 0.4\nbase = 0.5\nper_watt = 0\n'
WORK = task("A", "EV1", 0, 120) + task("B", "EV2", 0, 120) + task("S", "EV1 EV2", 120, 60)
BEGUN = "0:00 clock\n0:00 start A\n0:00 start B"


def suit_of(log=BEGUN, pet="1:00", suits=BOTH, work=WORK, name="A"):
    return follow_at(plan_of(SUITED + suits + work), log, pet).suits[name]


def budget_of(log=BEGUN, pet="1:00", suits=BOTH, work=WORK):
    record = reconcile(plan_of(SUITED + suits + work), log_of(log), parse_instant(at(pet)))
    return budgets(record, project(record))


def test_without_a_reading_what_is_left_is_what_was_loaded_less_modelled_use():
    """0.6 kg an hour: at 1:00 3.4 kg are left, 1.2 needed to 3:00, the reserve reached at 1:00 + 3.0 / 0.6 h = 6:00."""
    water = suit_of().consumables["water"]
    assert water.reading is None
    assert water.left == pytest.approx(3.4)
    assert water.need == pytest.approx(1.2)
    assert water.reserve_reached_pet_min == pytest.approx(360)
    assert water.margin_min == pytest.approx(180)


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
    assert water.need == pytest.approx(2 * rate)
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
    """Water by 6:00; with the battery at 130 Wh it is the battery: 90 Wh above the reserve at 60 W are 1:30."""
    assert suit_of().limiting == "water"
    low = suit_of(BEGUN + "\n1:00 reading A battery=130")
    assert low.limiting == "battery"
    factor = (320 / 60) ** (1 / 3)
    assert low.limit_pet_min == pytest.approx(60 + 90 / factor)
    assert low.margin_min == pytest.approx(60 + 90 / factor - 180)


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
        (90, 120.0, light),
    ]
    rate = default_rates()["oxygen"]
    by_hand = (20 * light + 40 * 400 + 30 * rest + 30 * light) / 60 * rate.per_watt + 2 * rate.base
    assert use_between(pieces, rate, 0, 120) == pytest.approx(by_hand)
    assert pet_when_used(pieces, rate, 0, by_hand) == pytest.approx(120)
    half = use_between(pieces, rate, 0, 55)
    assert pet_when_used(pieces, rate, 0, half) == pytest.approx(55)


def test_a_plan_may_give_its_own_rate_for_a_part_of_it():
    """`base` from the plan, `per_watt` from physiology."""
    suits = '[[suit]]\nid = "A"\n[suit.oxygen]\nloaded = 1.0\nbase = 0.02\n'
    work = task("A", "EV1", 0, 120, workload=300)
    oxygen = suit_of("0:00 clock\n0:00 start A", "1:00", suits, work).consumables["oxygen"]
    assert 1.0 - oxygen.left == pytest.approx(0.02 + 300 * default_rates()["oxygen"].per_watt)


@pytest.mark.parametrize(
    ("readings", "pet", "flags"),
    [
        ("", "0:30", []),
        ("", "1:30", ["no reading yet"]),
        ("0:30 reading A water=3.7", "1:00", []),
        ("0:30 reading A water=3.7", "1:31", ["the last reading is stale"]),
        ("0:30 reading A water=3.5\n0:40 reading A water=3.7", "1:00", ["a reading rises"]),
        ("0:30 reading A water=3.7\n0:40 reading A water=3.702", "1:00", []),
        ("0:30 reading A water=3.7\n0:40 reading A water=3.72", "1:00", ["a reading rises"]),
        ("0:30 reading A water=3.7\n0:40 reading A water=2.9", "1:00", ["a reading jumps down"]),
    ],
)
def test_odd_readings_are_flagged(readings, pet, flags):
    """Rises by more than 0.1 % of what was loaded, falls by far more than modelled, missing or stale for an hour."""
    water = suit_of(BEGUN + "\n" + readings, pet).consumables["water"]
    assert water.flags == flags
    assert water.stale == (pet > "1:01")


TRUE_READINGS = BEGUN + "\n0:30 reading A water=3.7"


@pytest.mark.parametrize("wrong", [20.0, 3.9, 3.72])
def test_a_wrong_reading_teaches_nothing_once_a_right_one_follows(wrong):
    """Above what was loaded, or above the reading before: all figures are those of the log without it."""
    plain = suit_of(f"{TRUE_READINGS}\n0:47 reading A water=3.5").consumables["water"]
    found = suit_of(f"{TRUE_READINGS}\n0:45 reading A water={wrong}\n0:47 reading A water=3.5").consumables["water"]
    assert found.flags and found.model_copy(update={"flags": []}) == plain


@pytest.mark.parametrize(("wrong", "flag"), [(19.9, "a reading is above what was loaded"), (3.9, "a reading rises")])
def test_a_last_reading_that_cannot_be_is_not_believed(wrong, flag):
    """What was read before stands, modelled on from; an alert asks to amend it, and it is listed with both values."""
    plan = plan_of(SUITED + BOTH + WORK)
    plain, found = (follow_at(plan, TRUE_READINGS + more, "1:00") for more in ("", f"\n0:45 reading A water={wrong}"))
    water = found.suits["A"].consumables["water"]
    assert water.flags == [flag]
    assert water.model_copy(update={"flags": []}) == plain.suits["A"].consumables["water"]
    assert (found.limit, found.end, found.advice) == (plain.limit, plain.end, plain.advice)
    (alert,) = found.alerts
    assert (alert.id, alert.since_pet_min) == ("reading-A-water", 45)
    assert f"{wrong:g} kg" in alert.what and "amend" in alert.do
    (one,) = found.discrepancies
    assert (one.event, one.pet_min) == ("e5", 45)
    assert "no more than" in one.expected and f"{wrong:g} kg, not believed" in one.found
    amended = follow_at(
        plan, f'{TRUE_READINGS}\n0:45 reading A water={wrong}\n0:50 amend e5 changes={{"water":3.55}}', "1:00"
    )
    assert (amended.alerts, amended.discrepancies) == ([], [])


def test_a_graduation_up_is_flagged_and_asks_for_nothing():
    """A rise by no more than 2 % of what was loaded: the lower reading stands, and no alert or discrepancy with it."""
    plan = plan_of(SUITED + BOTH + WORK)
    state = follow_at(plan, TRUE_READINGS + "\n0:45 reading A water=3.74", "1:00")
    water = state.suits["A"].consumables["water"]
    assert (water.reading, water.flags) == (3.7, ["a reading rises"])
    assert (state.alerts, state.discrepancies) == ([], [])


def test_a_fill_a_little_above_what_was_loaded_is_believed():
    """By up to 2 %; it says nothing of the rate."""
    water = suit_of(BEGUN + "\n0:10 reading A water=4.07").consumables["water"]
    assert (water.reading, water.flags, water.factor) == (4.07, [], 1.0)


LOW = BEGUN + "\n0:30 reading A water=3.7\n0:40 reading A water=2.7"


@pytest.mark.parametrize(
    ("more", "reading", "flags"),
    [
        ("", 2.7, ["a reading jumps down"]),
        ("0:45 reading A water=3.5", 2.7, ["a reading rises", "a reading jumps down"]),
        ("0:45 reading A water=3.5\n0:50 reading A water=3.45", 3.45, ["a reading is lower than those after it"]),
        ("0:45 reading A water=3.5\n0:50 reading A water=3.55", 2.7, ["a reading rises", "a reading jumps down"]),
        ("0:45 reading A water=3.5\n0:50 reading A water=2.9", 2.7, ["a reading rises", "a reading jumps down"]),
        ("0:45 reading A water=3.5\n0:50 reading A water=2.65\n0:55 reading A water=3.4", 2.65,
         ["a reading rises", "a reading jumps down"]),
        ("0:45 reading A water=3.5\n0:45 reading A water=3.5", 2.7, ["a reading rises", "a reading jumps down"]),
        ("0:45 reading A water=3.5\n0:45 reading A water=3.5\n0:50 reading A water=3.45", 3.45,
         ["a reading is lower than those after it"]),
    ],
    ids=["falls", "rises once", "borne out", "rises again", "falls too far to agree", "the lower level in between",
         "entered twice", "entered twice and borne out"],
)  # fmt: skip
def test_the_lower_of_two_levels_is_believed_until_two_readings_agree_on_the_higher(more, reading, flags):
    """Towards danger: a fall at once, a rise only when a reading of a later time bears it out."""
    water = suit_of(f"{LOW}\n{more}").consumables["water"]
    assert (water.reading, water.flags) == (reading, flags)


def test_a_reading_that_was_too_low_teaches_nothing_once_that_is_known():
    """Two later ones agree on the higher level: the figures are those without it, and no alert stands."""
    more = "\n0:45 reading A water=3.5\n0:50 reading A water=3.45"
    plain = suit_of(TRUE_READINGS + more).consumables["water"]
    state = follow_at(plan_of(SUITED + BOTH + WORK), LOW + more, "1:00")
    assert state.suits["A"].consumables["water"].model_copy(update={"flags": []}) == plain
    assert state.alerts == []
    assert [(one.event, "no less than" in one.expected) for one in state.discrepancies] == [("e5", True)]


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


def test_a_reading_entered_late_counts_where_it_belongs():
    """The later reading stands, whichever came in last."""
    late = suit_of(BEGUN + "\n0:50 reading A water=3.5\n0:30 reading A water=3.7").consumables["water"]
    assert late.reading == 3.5


def test_a_withdrawn_reading_is_as_if_never_made():
    """And an amended one counts its new value."""
    plain = suit_of().consumables["water"]
    withdrawn = suit_of(BEGUN + "\n0:30 reading A water=1.7\n0:31 withdraw e4").consumables["water"]
    assert withdrawn.left == plain.left
    amended = suit_of(BEGUN + '\n0:30 reading A water=1.7\n0:31 amend e4 changes={"water":3.7}').consumables["water"]
    assert amended.left == pytest.approx(3.4)


def test_an_empty_suit_has_nothing_left_and_its_limit_is_now():
    """Never below zero."""
    water = suit_of(BEGUN + "\n1:00 reading A water=0").consumables["water"]
    assert water.left == 0
    assert water.reserve_reached_pet_min == 60
    assert water.margin_min == -120


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


BOOM = '[[worksite]]\nid = "boom"\nreturn = 14\n'


def turn_back(work, log, pet, suits="", lane="EV1"):
    return follow_at(plan_of(SUITED + suits + BOOM + work), log, pet).lanes[lane].turn_back_pet_min


IN_WORK = "0:00 clock\n0:00 start A"
# A is in hand whenever the lane turns back: it cannot be over by then, and is broken off.
STUCK = IN_WORK + "\n1:00 estimate A remaining=600"


def test_turn_back_by_hand():
    """In by 6:30, 14 min from the boom, 30 min of required work at the airlock: 5:46, since A is over at 1:30."""
    work = (
        task("A", "EV1", 0, 90, worksite="boom", closeout=6) + task("B", "EV1", 90, 60)
        + task("IN", "EV1 EV2", 150, 30, required=True)
    )
    assert turn_back(work, IN_WORK, "1:00") == 390 - 14 - 30
    assert turn_back(work, STUCK, "1:00") == 390 - 14 - 30 - 6  # not over by then: 6 min to leave it safe
    assert turn_back(work, f"{IN_WORK}\n5:30 estimate A remaining=16", "5:30") == 390 - 14 - 30  # over just then
    assert turn_back(work, f"{IN_WORK}\n5:30 estimate A remaining=19", "5:30") == 390 - 14 - 30 - 6  # 3 min late: left
    firm = work.replace("closeout = 6\n", "")
    assert turn_back(firm, IN_WORK, "1:00") == 390 - 14 - 30
    late = f"{IN_WORK}\n5:30 estimate A remaining=19"  # may not be broken off, over at 5:49
    assert turn_back(firm, late, "5:30") == 330 - 3  # in by 6:33, whenever it turns back: 3 min too late already


def test_work_in_hand_that_is_over_by_then_does_not_count():
    """In by 2:50, 20 min of way home: 2:30, though EV2's work may not be broken off, for it ends at 1:00."""
    plan = SUITED.replace('"7:00"', '"3:00"').replace("reserve = 30", "reserve = 10")
    work = task("A", "EV1", 0, 30, closeout=5) + task("B", "EV2", 0, 60)
    home = task("HOME", "EV1 EV2", 90, 20, required=True, activity="way home", not_before="1:30")
    lanes = follow_at(plan_of(plan + work + home), IN_WORK + "\n0:00 start B", "0:10").lanes
    assert [lanes[name].turn_back_pet_min for name in ("EV1", "EV2")] == [150, 150]


def test_required_work_on_the_way_counts_until_the_projection_has_it_over():
    """R ends at 2:30 by the plan; with 4 h to go of what is before it, it still lies ahead and is done after turning back."""
    work = OUT + task("R", "EV1", 90, 60, required=True) + task("C", "EV1", 150, 30)
    work += task("IN", "EV1", 180, 30, required=True)
    assert turn_back(work, IN_WORK, "1:00") == 390 - 14 - 30
    assert turn_back(work, f"{IN_WORK}\n1:00 estimate A remaining=300", "1:00") == 390 - 14 - 60 - 30 - 6
    # begun at 4:50, it is under way until 5:50: in by 6:34 then, so not later than before it is begun
    assert turn_back(work, f"{IN_WORK}\n1:00 estimate A remaining=230", "1:00") == 390 - 14 - 60 - 30 - 6


def test_what_is_not_begun_and_may_be_dropped_is_dropped():
    """B would be in work from 1:30 to 6:50 and may not be broken off; it need not be begun. Once begun it counts."""
    work = OUT + task("B", "EV1", 90, 320) + task("IN", "EV1", 410, 30, required=True)
    assert turn_back(work, IN_WORK, "1:00") == 390 - 14 - 30
    begun = turn_back(work, f"{IN_WORK}\n1:30 done A\n1:30 start B", "1:30")
    assert begun == 90 - (410 + 14 + 30 - 390)


AIRLOCK = '[[worksite]]\nid = "airlock"\nreturn = 0\n[[worksite]]\nid = "far"\nreturn = 25\n'
OUT = task("A", "EV1", 0, 90, worksite="boom", closeout=6)


def way_home(minutes, start=90, **more):
    return task("HOME", "EV1", start, minutes, required=True, worksite="airlock", **more) + AIRLOCK


@pytest.mark.parametrize(
    ("home", "least"),
    [
        (way_home([8, 10, 14]), 6 + 14),  # the way itself, briefed shorter than the worksite says: the longer counts
        (way_home([12, 18, 25]), 6 + 18),  # the way itself, briefed longer: counted once, at its own length
        (way_home([15, 18, 25], start=110, activity="way home"), 6 + 18),  # the plan says that it is
        (way_home([15, 18, 25]), 6 + 14 + 18),  # cannot be the way alone: work at the airlock, the way besides
        (way_home([8, 10, 14], start=105), 6 + 14 + 10),  # the plan leaves time for the way before it
        (way_home([8, 10, 14]).replace('worksite = "airlock"\n', ""), 6 + 14 + 10),  # nothing says that it is the way
        (way_home([8, 10, 14]).replace("required = true\n", ""), 6 + 14),  # may be dropped; the way remains
    ],
    ids=["shorter", "longer", "named", "work there", "a gap before it", "no worksite", "not required"],
)
def test_the_way_home_is_counted_once_where_the_plan_has_it_as_a_task(home, least):
    """And never less than the worksite's own minutes, nor less than the task."""
    assert turn_back(OUT + home, STUCK, "1:00") == 390 - least


def test_the_way_home_is_counted_once_only():
    """A second short task at the airlock is work there."""
    work = OUT + way_home([8, 10, 14]) + task("IN", "EV1", 100, [8, 10, 14], required=True, worksite="airlock")
    assert turn_back(work, STUCK, "1:00") == 390 - 6 - 14 - 10


def test_once_on_the_way_home_what_remains_of_it_counts():
    """The task in hand is at the airlock: no way besides."""
    log = "0:00 clock\n0:00 start A\n1:30 done A\n1:30 start HOME"
    assert turn_back(OUT + way_home([8, 10, 14]), log, "1:33") == 390 - 7


def test_a_required_task_farther_out_makes_the_way_that_much_longer():
    """25 min from the far worksite, not 14 from where the lane is now."""
    work = OUT + AIRLOCK + task("FAR", "EV1", 90, 20, required=True, worksite="far")
    assert turn_back(work, STUCK, "1:00") == 390 - 6 - 25 - 20


def test_a_joint_task_waits_for_the_lane_that_is_in_last():
    """EV1 needs 6 + 14 min; EV2 has 300 min in hand that may not be broken off. Both do 30 min of work there."""
    work = OUT + task("B", "EV2", 0, 360) + task("IN", "EV1 EV2", 400, 30, required=True)
    log = f"{STUCK}\n0:00 start B"
    assert turn_back(work, log, "1:00") == 390 - 30 - 20  # B is over at 6:00, and EV1 has 20 min by then
    assert turn_back(work, log, "1:00", lane="EV2") == 390 - 30 - 20
    longer = f"{log}\n1:00 estimate B remaining=310"  # over at 6:10: all are in 10 min late, even turned back now
    assert turn_back(work, longer, "1:00") == 60 - 10
    assert turn_back(work, longer, "1:00", lane="EV2") == 60 - 10


def test_a_required_task_waits_for_the_required_task_it_follows():
    """With its lag: IN of EV2, 5 min after HOME of EV1."""
    work = OUT + way_home([8, 10, 14]) + task("IN", "EV2", 120, 12, required=True, follows=[{"task": "HOME", "lag": 5}])
    assert turn_back(work, STUCK, "1:00", lane="EV2") == 390 - 6 - 14 - 5 - 12


def test_the_close_out_of_a_task_just_broken_off_is_finished_first():
    """Broken off at 5:42 with 6 min of close-out: to 5:48, 2 min too late for the 44 min that follow; long before, not."""
    work = OUT + task("IN", "EV1", 150, 30, required=True)
    assert turn_back(work, f"{IN_WORK}\n5:42 break_off A", "5:43") == 343 - 2
    assert turn_back(work, f"{IN_WORK}\n1:00 break_off A", "1:02") == 390 - 14 - 30


def test_turn_back_is_earlier_when_the_lane_s_own_suit_ends_earlier():
    """Water of suit A to 6:00 when it is 0.6 an hour; suit B, which lasts longer, does not count for EV1."""
    work = task("A", "EV1", 0, 90, worksite="boom", closeout=6) + task("IN", "EV1 EV2", 150, 30, required=True)
    assert turn_back(work, STUCK, "1:00", BOTH) == pytest.approx(360 - 14 - 6 - 30)
    thirsty_b = BOTH.replace("base = 0.5\n", "base = 2.0\n")
    assert turn_back(work, STUCK, "1:00", thirsty_b) == pytest.approx(360 - 14 - 6 - 30)


def test_there_is_no_turn_back_for_the_arm_or_once_the_lane_is_in():
    """None, not a number."""
    work = task("A", "EV1", 0, 30)
    assert turn_back(work, "0:00 clock\n0:00 start A\n0:30 done A", "0:31") is None
    assert turn_back(work, "0:00 clock\n0:00 start A\n0:30 end", "0:31") is None
    arm = plan_of(task("A", "EV1", 0, 30) + task("R", "ARM", 0, 30))
    assert follow_at(arm, "0:00 clock\n0:00 start R", "0:10").lanes["ARM"].turn_back_pet_min is None


def test_a_rate_names_where_it_comes_from():
    """The plan's own, a default with its source, or both."""
    assert rate_origin("water", Consumable(loaded=4, reserve=0.4, base=0.6, per_watt=0)) == "rate of the plan"
    assert rate_origin("battery", Consumable(loaded=450, reserve=40)) == f"default rate from {SOURCES['battery']}"
    assert rate_origin("water", Consumable(loaded=4, reserve=0.4, base=0.6)).startswith("rate of the plan in part, else")


def test_a_rise_and_an_empty_tank_say_nothing_of_use():
    """The correction is that of the readings before them; neither makes the outlook rosier."""
    before = suit_of(BEGUN + "\n0:30 reading A water=3.6", "1:00").consumables["water"]
    risen = suit_of(BEGUN + "\n0:30 reading A water=3.6\n0:50 reading A water=3.62", "1:00").consumables["water"]
    empty = suit_of(BEGUN + "\n0:30 reading A water=3.6\n0:50 reading A water=0", "1:00").consumables["water"]
    assert risen.flags == ["a reading rises"]
    assert risen.factor == pytest.approx(before.factor) and empty.factor == pytest.approx(before.factor)
    assert empty.left == 0
