"""A rate that neither the plan nor a published source gives: shown as assumed, and it limits nothing until a reading speaks."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project
from dashboard.core.suits.budget import (
    ASSUMED_RATE,
    budgets,
    every_budget,
    limit_draws,
)
from dashboard.core.suits.constants import RATE_SPREAD_WITHOUT_READINGS, SHOWS_USE_SHARE
from tests.core.suits.suited import BEGUN, SUITED, WATER, WORK
from tests.scenario import at, follow_at, log_of, plan_of

SMALL = "[suit.battery]\nloaded = 100\nreserve = 40\n"  # an hour at any likely load
GIVEN = SMALL + "base = 60\nper_watt = 0\n"
OTHER = '[[suit]]\nid = "B"\n[suit.water]\nloaded = 4.0\nreserve = 0.4\nbase = 0.5\nper_watt = 0\n'


def state_at(pet, log=BEGUN, battery=SMALL):
    return follow_at(plan_of(SUITED + WATER + battery + OTHER + WORK), log, pet)


def test_an_assumed_rate_sets_no_limit_and_is_no_reason_for_advice():
    """A battery for an hour and a sortie of three: with its rate given it is the limit, with an assumed one it is not."""
    state, without, given = state_at("0:10"), state_at("0:10", battery=""), state_at("0:10", battery=GIVEN)
    assert (given.suits["A"].limiting, given.limit.set_by) == ("battery", "suit A battery")
    assert (state.suits["A"].limiting, state.limit) == ("water", without.limit)
    assert (state.end, state.advice) == (without.end, without.advice)
    assert {name: lane.turn_back_pet_min for name, lane in state.lanes.items()} == {
        name: lane.turn_back_pet_min for name, lane in without.lanes.items()
    }
    assert given.advice.needed and not state.advice.needed


def test_it_is_shown_as_assumed_with_its_figures():
    """What is left and when it would be gone stand there; it is never called below its reserve."""
    battery = state_at("2:00").suits["A"].consumables["battery"]
    assert battery.assumed and battery.flags == [ASSUMED_RATE, "no reading yet"]
    assert battery.left is not None and battery.left < battery.reserve and battery.reserve_reached_pet_min is not None
    assert not state_at("2:00").suits["A"].consumables["water"].assumed


def test_the_budgets_that_limit_leave_it_out():
    """Those that advice and draws take; the draws do not change by it."""
    record = reconcile(plan_of(SUITED + WATER + SMALL + OTHER + WORK), log_of(BEGUN), parse_instant(at("0:10")))
    shown, limiting = every_budget(record, project(record)), budgets(record, project(record))
    assert set(shown) - set(limiting) == {("A", "battery")}
    assert limit_draws(limiting, 10.0, 1, 100).min() > limit_draws(shown, 10.0, 1, 100).min()


def test_after_a_first_reading_the_consumption_so_far_speaks():
    """30 Wh in half an hour is 60 W from now on, whatever was assumed: 40 Wh lie above the reserve, so until PET 1:00."""
    battery = state_at("0:30", BEGUN + "\n0:30 reading A battery=70").suits["A"].consumables["battery"]
    assert not battery.assumed
    assert battery.rate_per_h == pytest.approx(60)
    assert battery.reserve_reached_pet_min == pytest.approx(60)
    assert state_at("0:30", BEGUN + "\n0:30 reading A battery=70").limit.set_by == "suit A battery"


def test_a_reading_that_shows_hardly_any_use_decides_nothing():
    """Less than 5 % of what was loaded: a graduation of the gauge could be all of it."""
    share = 100 * (1 - SHOWS_USE_SHARE)
    before = state_at("0:06", BEGUN + f"\n0:05 reading A battery={share + 0.1}").suits["A"].consumables["battery"]
    after = state_at("0:06", BEGUN + f"\n0:05 reading A battery={share - 0.1}").suits["A"].consumables["battery"]
    assert (before.assumed, after.assumed) == (True, False)
    assert before.factor == 1.0


def test_the_spread_after_a_reading_is_no_wider_than_without():
    """As for a rate from a source."""
    record = reconcile(
        plan_of(SUITED + WATER + SMALL + OTHER + WORK), log_of(BEGUN + "\n0:30 reading A battery=70"), parse_instant(at("0:30"))
    )
    assert budgets(record, project(record))["A", "battery"].spread < RATE_SPREAD_WITHOUT_READINGS


def asked(pet, log=BEGUN, battery=SMALL):
    return [
        (one.id, one.level, one.since_pet_min, one.by_pet_min)
        for one in state_at(pet, log, battery).alerts if one.id.startswith("first-reading")
    ]


def test_the_room_is_asked_for_a_first_reading():
    """A note from PET 0:45, an alert from PET 1:30, until a reading shows the use; never where the plan gives the rate."""
    assert asked("0:44") == []
    assert asked("0:45") == [("first-reading-A", "note", 45.0, 90.0)]
    assert asked("1:29") == [("first-reading-A", "note", 45.0, 90.0)]
    assert asked("1:30") == [("first-reading-A", "alert", 45.0, None)]
    assert asked("1:30", BEGUN + "\n1:00 reading A battery=60") == []
    assert asked("1:30", BEGUN + "\n1:00 reading A water=3.4") == [("first-reading-A", "alert", 45.0, None)]
    assert asked("1:30", battery=GIVEN) == []
    assert asked("2:00", BEGUN + "\n1:40 end") == []
