"""Instants, PET and lengths of time from text. The ASCII time codes of CCSDS are tested in tests/published."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.core.base.minutes import clock
from dashboard.core.base.times import (
    instant_text,
    minutes_between,
    parse_instant,
    parse_minutes,
    plus_minutes,
)

INSTANT = datetime(2031, 4, 12, 9, 10, tzinfo=UTC)
instants = st.datetimes(datetime(1970, 1, 1), datetime(2099, 12, 31), timezones=st.just(UTC))


@pytest.mark.parametrize(
    ("value", "minutes"),
    [
        (90, 90.0), (0.5, 0.5), ("90", 90.0), ("-5", -5.0), ("12.5", 12.5), ("1:30", 90.0), ("-0:05", -5.0), ("0:00:30", 0.5),
        (" 2:05 ", 125.0), ("100:00", 6000.0), ("0:00:45.5", 45.5 / 60),
    ],
)  # fmt: skip
def test_minutes_are_a_number_or_hours_and_minutes(value: object, minutes: float):
    """Signs, seconds and surrounding blanks included."""
    assert parse_minutes(value) == pytest.approx(minutes)


@pytest.mark.parametrize(
    "value",
    [
        "1:60",
        "1:5",
        "1h30",
        "",
        "soon",
        None,
        True,
        [90],
        float("nan"),
        float("inf"),
        10**400,
        "9" * 400,
        "1:30:60",
        "nan",
        "1e3",
    ],
)
def test_what_is_no_length_of_time_is_refused(value: object):
    """In words that name what was found."""
    with pytest.raises(ValueError, match="minutes"):
        parse_minutes(value)


@given(st.integers(-5999, 5999))
def test_a_pet_that_is_written_is_read_back(minutes: int):
    """For every whole minute on both sides of PET zero."""
    assert parse_minutes(clock(minutes)) == minutes


@pytest.mark.parametrize(
    "text",
    [
        "2031-04-12T09:10:00Z",
        "2031-04-12t09:10:00z",
        "2031-04-12T11:10:00+02:00",
        "2031-04-12T04:40:00-04:30",
        "2031-102T09:10:00",
    ],
)
def test_an_instant_in_any_zone_is_utc(text: str):
    """RFC 3339 with `Z` or an offset, and the day of the year."""
    found = parse_instant(text)
    assert (found, found.tzinfo) == (INSTANT, UTC)


def test_an_aware_datetime_is_an_instant_and_a_naive_one_is_none():
    """A forgotten zone is an error of hours."""
    assert parse_instant(datetime(2031, 4, 12, 11, 10, tzinfo=timezone(timedelta(hours=2)))) == INSTANT
    with pytest.raises(ValueError, match="with its zone"):
        parse_instant(datetime(2031, 4, 12, 9, 10))


@pytest.mark.parametrize(
    ("value", "says"),
    [
        ("2031-04-12T09:10:00", "with its zone"),
        ("2031-04-12 09:10", "with its zone"),
        ("2031-02-30T09:10:00Z", "a real date and time"),
        ("2031-04-12T25:10:00Z", "a real date and time"),
        ("2031-04-12T09:10:00+24:00", "an offset up to 23:59"),
        ("0001-01-01T00:00:00+14:00", "the years 1 to 9999"),
        ("noon", "an instant such as"),
        (1_767_225_600, "an instant as text"),
    ],
)
def test_what_is_no_instant_is_refused(value: object, says: str):
    """With what was expected instead."""
    with pytest.raises(ValueError, match=says):
        parse_instant(value)


@given(instants)
def test_an_instant_that_is_written_is_read_back(instant: datetime):
    """To the microsecond."""
    assert parse_instant(instant_text(instant)) == instant


@pytest.mark.parametrize(
    ("microsecond", "text"),
    [(0, "2031-04-12T09:10:00Z"), (500_000, "2031-04-12T09:10:00.5Z"), (1, "2031-04-12T09:10:00.000001Z")],
)
def test_an_instant_is_written_without_zeros_that_say_nothing(microsecond: int, text: str):
    """No fraction where there is none."""
    assert instant_text(INSTANT.replace(microsecond=microsecond)) == text


@given(instants, st.floats(-1e5, 1e5))
def test_minutes_added_are_minutes_between(instant: datetime, minutes: float):
    """To the microsecond that an instant holds."""
    assert minutes_between(instant, plus_minutes(instant, minutes)) == pytest.approx(minutes, abs=1e-7)
