"""Minutes in the words of the core: whole, rounded as asked for."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.core.base.minutes import clock, length, whole


@pytest.mark.parametrize(
    ("minutes", "down", "up", "nearest"),
    [(2.0, 2, 2, 2), (2.4, 2, 3, 2), (2.5, 2, 3, 3), (-2.4, -3, -2, -2), (-2.5, -3, -2, -2), (0.0, 0, 0, 0)],
)
def test_minutes_are_rounded_as_asked_for(minutes: float, down: int, up: int, nearest: int):
    """Down is earlier and up is later, below zero as well."""
    assert (whole(minutes, "down"), whole(minutes, "up"), whole(minutes, "nearest")) == (down, up, nearest)


@pytest.mark.parametrize(
    ("minutes", "towards", "expected"), [(2.9999999, "down", 3), (3.0000001, "up", 3), (2.999, "down", 2)]
)
def test_noise_of_arithmetic_moves_no_minute(minutes: float, towards, expected: int):
    """What differs from a whole minute in the seventh decimal is that minute; a thousandth is not noise."""
    assert whole(minutes, towards) == expected


@pytest.mark.parametrize(
    ("minutes", "text"),
    [
        (0, "0:00"),
        (125, "2:05"),
        (59.9, "0:59"),
        (-5, "-0:05"),
        (-0.5, "-0:01"),
        (-65, "-1:05"),
        (6000, "100:00"),
    ],
)
def test_a_pet_is_hours_and_minutes(minutes: float, text: str):
    """Rounded down unless asked otherwise; before PET zero with a sign."""
    assert clock(minutes) == text


def test_a_pet_can_be_rounded_up():
    """An end is not said earlier than it is."""
    assert clock(125.2, "up") == "2:06"


@pytest.mark.parametrize(
    ("minutes", "text"),
    [(0, "0 min"), (35, "35 min"), (59.6, "1 h"), (112, "1 h 52 min"), (120, "2 h"), (61, "1 h 01 min")],
)
def test_a_length_names_its_units(minutes: float, text: str):
    """Without hours below one hour, without minutes at whole hours."""
    assert length(minutes) == text


@given(st.floats(-10_000, 10_000))
def test_rounding_stays_within_a_minute(minutes: float):
    """Down is not above, up is not below, the nearest is at most half a minute away."""
    noise = 1e-6
    assert minutes - 1 - noise < whole(minutes, "down") <= minutes + noise
    assert minutes - noise <= whole(minutes, "up") < minutes + 1 + noise
    assert abs(whole(minutes, "nearest") - minutes) <= 0.5 + noise
