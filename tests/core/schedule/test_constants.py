"""Constants of the forecast: each says what it rests on, a sourced one names its check, and no other module sets one."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from dashboard.core.schedule import boxed, durations, lengths, pace
from dashboard.core.schedule.constants import ASSUMED, CONSTANTS, SOURCED, value

ROOT = Path(__file__).parents[3]
SCHEDULE = ROOT / "dashboard" / "core" / "schedule"
NO_FORECAST = {"_GRID", "_KNOT_MIN", "_TINY_MIN", "TINY_MIN", "DRAWS", "SEED"}  # tables, tolerances and the size of a sample


@pytest.mark.parametrize("name", CONSTANTS)
def test_each_constant_is_used_and_says_what_it_rests_on(name):
    """By exactly the modules that ask for it by name."""
    assert CONSTANTS[name].basis in (ASSUMED, SOURCED) and len(CONSTANTS[name].worth) > 20
    assert any(f'value("{name}")' in path.read_text(encoding="utf-8") for path in SCHEDULE.glob("*.py"))


@pytest.mark.parametrize("name", [name for name, one in CONSTANTS.items() if one.basis == SOURCED])
def test_a_sourced_constant_names_a_check_that_exists(name):
    """A test of published values, or the bench that a published test rests on."""
    worth = CONSTANTS[name].worth
    named = re.findall(r"test_\w+\.py", worth)
    assert all((ROOT / "tests" / "published" / one).exists() for one in named)
    assert named, worth


def test_no_other_module_of_the_schedule_sets_a_number_of_its_own():
    """A module constant with a number in it stands in the table, unless it is a tolerance or a size of a table."""
    found = {
        (path.name, name)
        for path in SCHEDULE.glob("*.py")
        for name, _ in re.findall(r"^([A-Z_][A-Z_0-9]*) = (-?[\d.]+.*)$", path.read_text(encoding="utf-8"), re.MULTILINE)
        if name not in NO_FORECAST
    }
    assert found == set()


def test_the_modules_hold_the_values_of_the_table():
    """One of each."""
    named = {
        "LEG_SPREAD": pace.LEG_SPREAD, "GRAIN_MIN": durations.GRAIN_MIN, "BOXED_OVERRUN_MIN": boxed.OVERRUN_MIN,
        "LEAST_HOLD_MIN": lengths.LEAST_HOLD_MIN,
    }
    assert named == {name: value(name) for name in named}


def test_the_weights_of_odd_sorties_leave_most_to_plain_ones():
    """Each pair of weights adds up to less than a half."""
    for names in (("WIDE_WEIGHT", "SHIFT_WEIGHT"), ("SCATTER_WIDE_WEIGHT", "STICKING_WEIGHT")):
        assert 0 < sum(value(name) for name in names) < 0.5
