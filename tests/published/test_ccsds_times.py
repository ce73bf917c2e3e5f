"""CCSDS 301.0-B-4 section 3.5.1, ASCII time codes A (month and day) and B (day of year); section and annex A were read.

Python's datetime is the outside reference for what each text means.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from dashboard.core.base.times import instant_text, parse_instant

EXAMPLE_A = "1988-01-18T17:20:43.123456Z"  # section 3.5.1.1, read
EXAMPLE_B = "1988-018T17:20:43.123456Z"  # section 3.5.1.2, read
EXAMPLE = datetime(1988, 1, 18, 17, 20, 43, 123456, tzinfo=UTC)

instants = st.datetimes(datetime(1, 1, 1), datetime(9999, 12, 31, 23, 59, 59, 999999), timezones=st.just(UTC))


def test_the_examples_of_the_standard():
    """Both examples are the same instant, and it is written as the standard writes code A."""
    assert parse_instant(EXAMPLE_A) == parse_instant(EXAMPLE_B) == EXAMPLE
    assert instant_text(EXAMPLE) == EXAMPLE_A


@given(instants)
def test_both_codes_name_the_same_instant(instant):
    """Both read back to the microsecond; Python's own reader of code A, and its own writer of code B, agree."""
    a, b = instant_text(instant), f"{instant.year:04d}-{instant:%jT%H:%M:%S.%f}Z"
    assert parse_instant(a) == parse_instant(b) == instant
    assert datetime.fromisoformat(a) == instant


@given(st.integers(1, 9999))
@example(1)
@example(999)
@example(1900)
@example(2000)
@example(2100)
def test_the_last_day_of_a_year(year):
    """Day 366 exists in leap years alone (annex A: divisible by 4, of the centuries only those by 400)."""
    last = (date(year, 12, 31) - date(year, 1, 1)).days + 1
    text = f"{year:04d}-{last:03d}T00:00:00Z"
    assert parse_instant(text) == datetime(year, 12, 31, tzinfo=UTC)
    with pytest.raises(ValueError, match=f"001 to {last} in {year:04d}, not {last + 1}"):
        parse_instant(f"{year:04d}-{last + 1:03d}T00:00:00Z")


@pytest.mark.parametrize("text", ["2031-000T00:00:00Z", "2032-367T00:00:00Z", "2031-999T00:00:00Z"])
def test_days_that_no_year_has(text):
    """Day of year runs from 001."""
    with pytest.raises(ValueError, match="day of year"):
        parse_instant(text)


@pytest.mark.parametrize(
    ("fraction", "microseconds"),
    [
        ("", 0), (".1", 100000), (".12", 120000), (".000001", 1), (".123456", 123456), (".1234569", 123456),
        (".9999999", 999999),
    ],
)
def test_a_fraction_may_have_any_number_of_digits(fraction, microseconds):
    """One to n digits; those past the microsecond are cut off, so that no text moves into the next second."""
    expected = datetime(2031, 4, 12, 9, 10, 0, microseconds, tzinfo=UTC)
    assert parse_instant(f"2031-04-12T09:10:00{fraction}Z") == expected
    assert parse_instant(f"2031-102T09:10:00{fraction}Z") == expected


def test_the_terminator_is_optional_in_code_b():
    """Section 3.5.1.2: the Z may be left out; the code is UTC all the same."""
    assert parse_instant(EXAMPLE_B.removesuffix("Z")) == EXAMPLE


def test_code_a_without_its_terminator_is_refused():
    """Stricter than section 3.5.1.1 on purpose: such a text may as well be a local time whose zone was forgotten."""
    with pytest.raises(ValueError, match="end it with Z for UTC"):
        parse_instant(EXAMPLE_A.removesuffix("Z"))


@pytest.mark.parametrize("text", ["2016-12-31T23:59:60Z", "2016-366T23:59:60Z", "2016-366T23:59:60.5Z"])
def test_a_leap_second_is_refused_in_words(text):
    """The standard allows second 60; PET arithmetic does not know it, and says so rather than shift by a second."""
    with pytest.raises(ValueError, match="leap second"):
        parse_instant(text)


def test_the_second_before_and_after_a_leap_second():
    """Midnight follows 23:59:59 by one second: leap seconds are left out of PET."""
    before, after = parse_instant("2016-366T23:59:59Z"), parse_instant("2017-001T00:00:00Z")
    assert after - before == timedelta(seconds=1)


@pytest.mark.parametrize(
    "text",
    [
        "2031-102T9:10:00Z", "2031-102T09:10Z", "2031-102T09:10:0Z", "31-102T09:10:00Z", "2031-12T09:10:00Z",
        "2031-102T09:10:00.Z", "2031-102T09:10:00,5Z", "2031-102 09:10:00Z", "2031102T091000Z", "2031-102",
        "102T09:10:00Z", "2031-102T24:00:00Z", "2031-102T09:60:00Z", "2031-102T09:10:61Z", "0000-001T00:00:00Z",
        "2031-102T09:10:00ZZ",
        "2031-02-29T09:10:00Z", "2031-13-01T09:10:00Z", "2031-04-31T09:10:00Z", "2031-4-12T09:10:00Z",
    ],
)
def test_what_is_not_a_whole_code_is_refused(text):
    """Leading zeros, separators and ranges as in section 3.5.1; its subsets (3.5.1.3) are no instants and not taken."""
    with pytest.raises(ValueError, match="not "):
        parse_instant(text)
