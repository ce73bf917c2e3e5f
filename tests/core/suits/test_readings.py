"""Which readings of a suit are believed, and what is said of the others."""

from __future__ import annotations

import pytest

from dashboard.core.suits.readings import IN_DOUBT
from tests.core.suits.suited import BEGUN, BOTH, SUITED, WORK, suit_of
from tests.scenario import follow_at, plan_of


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
        ("0:30 reading A water=3.7\n0:40 reading A water=2.9", "1:00", [IN_DOUBT]),
        ("0:30 reading A water=3.7\n0:40 reading A water=2.9\n0:50 reading A water=2.8", "1:00", ["a reading jumps down"]),
    ],
)
def test_odd_readings_are_flagged(readings, pet, flags):
    """Rises by more than 0.1 % of what was loaded, falls by more than any workload explains, missing or stale for an hour."""
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
LOWER = "a reading is lower than those after it"
JUMPS = "a reading jumps down"


@pytest.mark.parametrize(
    ("more", "reading", "doubted", "flags"),
    [
        ("", 3.7, 2.7, [IN_DOUBT]),
        ("0:45 reading A water=3.5", 3.5, None, [LOWER]),
        ("0:45 reading A water=2.6", 2.6, None, [JUMPS]),
        ("0:45 reading A water=1.9", 2.7, 1.9, [IN_DOUBT, JUMPS]),
        ("0:45 reading A water=3.1", 3.7, 2.7, [IN_DOUBT]),
        ("0:45 reading A water=3.1\n0:50 reading A water=3.0", 3.0, None, [LOWER, JUMPS]),
        ("0:45 reading A water=3.1\n0:50 reading A water=3.45", 3.45, None, [LOWER]),
        ("0:45 reading A water=3.1\n0:50 reading A water=2.6", 2.6, None, ["a reading rises", JUMPS]),
        ("0:40 reading A water=2.7", 3.7, 2.7, [IN_DOUBT]),
        ("0:45 reading A water=3.9", 3.7, 2.7, [IN_DOUBT, "a reading rises"]),
        ("0:45 reading A water=3.9\n0:50 reading A water=3.85", 3.85, None, [LOWER]),
        ("0:45 reading A water=9", 3.7, 2.7, [IN_DOUBT, "a reading is above what was loaded"]),
        ("0:45 reading A water=3.5\n0:50 reading A water=2.9", 3.5, 2.9, [IN_DOUBT, LOWER]),
    ],
    ids=["falls", "fits the value before", "fits the doubted value", "is lower still", "fits neither", "fits the second doubted",
         "fits the value before both", "fits the first of two", "entered twice", "rises above both", "rises, borne out",
         "above the load", "falls again"],
)  # fmt: skip
def test_a_fall_that_no_workload_explains_is_doubted_until_a_reading_fits_either_value(more, reading, doubted, flags):
    """From 3.7 to 2.7 in ten minutes, where 0.1 are modelled and 0.33 would be let pass; what counts is the lower value."""
    water = suit_of(f"{LOW}\n{more}").consumables["water"]
    assert (water.reading, water.doubted.value if water.doubted else None, water.flags) == (reading, doubted, flags)


def test_a_wrong_first_reading_is_neither_believed_silently_nor_is_the_right_one_disbelieved():
    """1.0 kg at PET 0:30 where 3.7 was to be expected: the margin falls at once, both values are shown, the room is asked."""
    plan = plan_of(SUITED + BOTH + WORK)
    wrong = BEGUN + "\n0:30 reading A water=1.0"
    state, without = follow_at(plan, wrong, "0:35"), follow_at(plan, BEGUN, "0:35")
    water = state.suits["A"].consumables["water"]
    assert (water.doubted.value, water.doubted.pet_min, water.doubted.expected) == (1.0, 30, pytest.approx(3.7))
    assert (water.left, water.reserve_reached_pet_min) == (pytest.approx(0.95), pytest.approx(90))
    assert (water.rate_per_h, water.factor) == (without.suits["A"].consumables["water"].rate_per_h, 1.0)
    assert (state.limit.pet_min, state.limit.set_by) == (pytest.approx(90), "suit A water")
    (alert,) = [one for one in state.alerts if one.id == "reading-A-water"]
    assert "1 kg was read where about 3.7 kg was to be expected" in alert.what and alert.since_pet_min == 30
    assert "Read the suit again" in alert.do
    (listed,) = state.discrepancies
    assert (listed.event, "about 3.7 kg" in listed.expected, "1 kg, in doubt" in listed.found) == ("e4", True, True)
    right = suit_of(wrong + "\n0:40 reading A water=3.6", "1:00").consumables["water"]
    plain = suit_of(BEGUN + "\n0:40 reading A water=3.6", "1:00").consumables["water"]
    assert right.flags == [LOWER] and right.model_copy(update={"flags": []}) == plain


def test_a_real_loss_is_believed_from_the_second_reading_on():
    """And use is corrected by it: what is read low twice is lost."""
    log = BEGUN + "\n0:30 reading A water=1.0\n0:40 reading A water=0.9"
    state = follow_at(plan_of(SUITED + BOTH + WORK), log, "0:41")
    found = state.suits["A"].consumables["water"]
    assert (found.reading, found.doubted, found.flags) == (0.9, None, [JUMPS])
    assert found.factor > 1.5
    assert [one.id for one in state.alerts if one.id.startswith("reading")] == [] and state.discrepancies == []


def test_a_reading_that_was_too_low_teaches_nothing_once_that_is_known():
    """Two later ones agree on the higher level: the figures are those without it, and no alert stands."""
    more = "\n0:45 reading A water=3.5\n0:50 reading A water=3.45"
    plain = suit_of(TRUE_READINGS + more).consumables["water"]
    state = follow_at(plan_of(SUITED + BOTH + WORK), LOW + more, "1:00")
    assert state.suits["A"].consumables["water"].model_copy(update={"flags": []}) == plain
    assert state.alerts == []
    assert [(one.event, "no less than" in one.expected) for one in state.discrepancies] == [("e5", True)]


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
