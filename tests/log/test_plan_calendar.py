"""The briefed tasks as a calendar, read by a calendar library."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import icalendar

from dashboard.core.base.caution import CAUTION
from dashboard.core.plan.model import Plan
from dashboard.log.plan_calendar import plan_to_calendar
from dashboard.log.planfile import read_toml
from tests.log.plans import FULL

MADE_AT = datetime(2031, 4, 1, 12, tzinfo=UTC)


def calendar(text: str = FULL) -> tuple[bytes, list[icalendar.Event]]:
    """The calendar of a plan, and its entries as the library reads them."""
    content = plan_to_calendar(Plan.model_validate(read_toml(text, Path("plan.toml"))), MADE_AT)
    return content, list(icalendar.Calendar.from_ical(content).walk("VEVENT"))


def test_each_briefed_task_is_an_entry_with_its_times_lanes_and_worksite() -> None:
    """Times are UTC from the planned PET zero, 09:10; a get-ahead and a step of a contingency have no time and no entry."""
    _, events = calendar()
    assert [event.get("SUMMARY") for event in events] == ["T070 (EV1)", "T080 Swap, connect; check (EV2, ARM)"]
    second = events[1]
    assert second.start == datetime(2031, 4, 12, 11, 0, 0, tzinfo=UTC)
    assert second.end == datetime(2031, 4, 12, 11, 40, 30, tzinfo=UTC)
    assert second.get("LOCATION") == "mast" and second.get("CATEGORIES").to_ical() == b"EV2,ARM"
    assert "Lanes: EV2, ARM\nPET 1:50 to 2:30" in second.get("DESCRIPTION") and CAUTION in second.get("DESCRIPTION")
    assert {event.get("DTSTAMP").dt for event in events} == {MADE_AT}
    assert [event.errors for event in events] == [[], []]


def test_no_line_is_longer_than_the_standard_allows() -> None:
    """RFC 5545, section 3.1: at most 75 bytes before CR LF; signs of several bytes are not torn apart."""
    long = "\u00b5m \u2192 \u00e9t\u00e9, " * 30
    content, events = calendar(FULL.replace("Swap, connect; check", long))
    lines = content.split(b"\r\n")
    assert max(map(len, lines)) <= 75 and b"\n" not in b"".join(lines)
    assert events[1].get("SUMMARY") == f"T080 {long.strip()} (EV2, ARM)"


def test_a_task_of_an_ending_that_is_still_open_is_tentative() -> None:
    """The default is confirmed."""
    _, events = calendar(FULL.replace('default = "out side"', 'default = "inside"'))
    assert [event.get("STATUS") for event in events] == ["CONFIRMED", "TENTATIVE"]
    assert "Only if 'out side' is taken for ending" in events[1].get("DESCRIPTION")


def test_the_same_task_has_the_same_identifier_again() -> None:
    """So a calendar replaces the entry when the plan has changed."""
    first, second = calendar()[1], calendar(FULL.replace('start = "1:50"', 'start = "2:00"'))[1]
    assert [event.get("UID") for event in first] == [event.get("UID") for event in second]
    assert len({event.get("UID") for event in first}) == 2
