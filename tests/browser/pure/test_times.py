"""Texts of times in the browser, and times out of texts."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from dashboard import words
from tests.browser.pure.conftest import Run

MINUTES = [-61.2, -60.0, -5.5, -0.5, 0.0, 0.99, 59.999, 60.0, 125.4, 600.0]
SECONDS = [None, -30, -3, 0, 0.9, 59.9, 60, 119, 3599, 3600, 3661, 7200, 7325]
NOW = datetime(2031, 3, 2, 9, 7, tzinfo=UTC)


def milliseconds(instant: datetime) -> float:
    return instant.timestamp() * 1000


def test_the_clocks_of_the_page_speak_as_the_program_does(run: Run) -> None:
    """PET, ages and UTC counted in the browser read as `dashboard.words` would say them."""
    instants = [NOW + timedelta(seconds=s) for s in (0, 59.9, 86_399)]
    assert run("return given[0].map(modules.times.petText)", MINUTES) == [words.pet(m) for m in MINUTES]
    assert run("return given[0].map(modules.times.ageText)", SECONDS) == [words.age(s) for s in SECONDS]
    utc = run("return given[0].map(modules.times.utcText)", [milliseconds(one) for one in instants])
    assert utc == [words.utc(one) for one in instants]


def test_a_pet_is_read_as_it_is_written(run: Run) -> None:
    """To the minute, and to the second."""
    there_and_back = "return given[0].map((m) => modules.times.parsePet(modules.times.petText(m)))"
    assert run(there_and_back, MINUTES) == [words.whole(m, "down") for m in MINUTES]
    to_the_second = "return given[0].map((m) => modules.times.parsePet(modules.times.petToTheSecond(m)))"
    assert run(to_the_second, [0.0, 0.5, 245.5, 359.75, -10.25]) == [0.0, 0.5, 245.5, 359.75, -10.25]
    assert run("return [0, 65, 245.5].map(modules.times.petToTheSecond)") == ["0:00", "1:05", "4:05:30"]


@pytest.mark.parametrize("text", ["", "2", "2:5", "2:60", "2:05:60", "two", "2:05 pm", "1234:00"])
def test_what_is_no_pet_is_not_read(run: Run, text: str) -> None:
    """Neither guessed nor cut to fit."""
    assert run("return modules.times.parsePet(given[0])", text) is None


@pytest.mark.parametrize(
    ("text", "instant"),
    [
        ("9:10", "2031-03-02T09:10:00Z"),
        (" 23:59:30 ", "2031-03-02T23:59:30Z"),
        ("2031-04-12T09:10:00Z", "2031-04-12T09:10:00Z"),
        ("2031-04-12 09:10:00.500+02:00", "2031-04-12T07:10:00.500Z"),
        ("24:00", None),
        ("9", None),
        ("2031-04-12", None),
        ("2031-13-12T09:10:00Z", None),
    ],
)
def test_a_utc_time_is_one_of_today_or_a_whole_instant(run: Run, text: str, instant: str | None) -> None:
    """An instant without its zone, or a date alone, is not read."""
    expected = None if instant is None else milliseconds(datetime.fromisoformat(instant))
    assert run("return modules.times.parseUtc(given[0], given[1])", text, milliseconds(NOW)) == expected


@pytest.mark.parametrize(
    ("speed", "running", "counted_s"), [(1, True, 10), (60, True, 600), (1, False, 0), (600, True, 0)]
)
def test_the_time_of_the_sortie_is_counted_on_at_its_speed(run: Run, speed: float, running: bool, counted_s: float) -> None:
    """Not while the clock stands, and not over 60 times, where one message is minutes: the board then shows one instant."""
    message: dict[str, Any] = {"now": "2031-03-02T09:07:00Z", "speed": speed, "clock_running": running}
    assert run("return modules.times.countedOn(given[0], 10000)", message) == milliseconds(NOW) + 1000 * counted_s


def test_a_feed_is_fresh_then_late_then_stale(run: Run) -> None:
    """From the minutes that the server sends on; what never came is none of them."""
    found = run("return given[0].map((s) => modules.times.freshness(s, [10, 20]))", [None, 0, 599, 600, 1199, 1200])
    assert found == ["none", "fresh", "fresh", "late", "late", "stale"]


@pytest.mark.parametrize(
    ("minutes", "words_"),
    [
        (0, ""), (-719, ""), (1, ""), (-721, " (12 h ago: is this time meant?)"),
        (2, " (2 min from now: is this time meant?)"), (4 * 1440, " (4 days from now: is this time meant?)"),
    ],
)  # fmt: skip
def test_a_pet_zero_to_come_or_long_past_is_odd(run: Run, minutes: float, words_: str) -> None:
    """More than a minute from now, or more than the minutes given ago; how far is said."""
    now = milliseconds(NOW)
    assert run("return modules.times.oddUtc(given[0], given[1], 720)", now + 60_000 * minutes, now) == words_


@pytest.mark.parametrize(("text", "pet"), [("7", 113), ("7.5 min", 112.5), ("1:47", 107), ("0", 120), ("soon", None), ("", None)])
def test_a_late_time_is_a_pet_or_so_many_minutes_ago(run: Run, text: str, pet: float | None) -> None:
    """Any minute; other words are neither."""
    assert run("return modules.times.lateMin(given[0], 120)", text) == pet
