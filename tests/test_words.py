"""Numbers become text by one set of rules, and the rules never round towards comfort."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard import words
from dashboard.core.schedule.because import Because
from dashboard.core.schedule.waits import Waits
from dashboard.core.state.model import EndState, LaneState, LogEntry
from tests.scenario import follow_at, plan_of, task

MINUTES = st.floats(min_value=-3000, max_value=3000)


@pytest.mark.parametrize(
    ("minutes", "towards", "text"),
    [
        (125.0, "down", "2:05"), (125.9, "down", "2:05"), (125.1, "up", "2:06"), (0.0, "down", "0:00"),
        (59.9999999, "down", "1:00"), (60.0000001, "up", "1:00"), (600.0, "down", "10:00"), (-5.0, "down", "-0:05"),
        (-0.4, "up", "0:00"), (None, "down", "not known yet"),
    ],
)
def test_pet_is_hours_and_minutes(minutes: float | None, towards: Any, text: str) -> None:
    """A PET is H:MM; noise far below a second moves it nowhere."""
    assert words.pet(minutes, towards) == text


def test_a_time_alone_names_its_clock() -> None:
    """A PET and a UTC time that stand alone carry the name of their clock."""
    assert words.pet_named(125) == "PET 2:05"
    assert words.utc_named(datetime(2031, 4, 12, 11, 15, 4, tzinfo=UTC)) == "UTC 11:15:04"
    assert words.pet_named(None) == words.utc_named(None) == "not known yet"


@pytest.mark.parametrize(
    ("minutes", "text"),
    [
        (7.9, "7 min in hand"), (1.0, "1 min in hand"), (0.9, "under 1 min in hand"), (0.0, "under 1 min in hand"),
        (-0.2, "1 min over"), (-7.3, "8 min over"), (-1e-9, "under 1 min in hand"), (113.0, "1 h 53 min in hand"),
        (120.5, "2 h in hand"), (-120.0, "2 h over"), (None, "not known yet"),
    ],
)
def test_a_margin_rounds_towards_danger(minutes: float | None, text: str) -> None:
    """What is left rounds down, what is over rounds up, and a margin under a minute is not called zero."""
    assert str(words.margin(minutes)) == text


@pytest.mark.parametrize(
    ("minutes", "text"),
    [
        (-12.3, "13 min behind"), (-0.6, "1 min behind"), (-0.5, "on the brief"), (0.0, "on the brief"),
        (0.7, "on the brief"), (3.9, "3 min ahead"), (-61.2, "1 h 02 min behind"), (None, "not known yet"),
    ],
)
def test_ahead_and_behind(minutes: float | None, text: str) -> None:
    """Behind rounds up, ahead rounds down, and half a minute either way is on the brief."""
    assert str(words.ahead(minutes)) == text


@given(MINUTES)
def test_no_figure_is_kinder_than_the_truth(minutes: float) -> None:
    """Whatever the value, the minutes said are never more in hand, ahead or left than there are."""
    for phrase in (words.margin(minutes), words.ahead(minutes)):
        if not phrase.figure:
            continue
        hours, _, rest = phrase.figure.rpartition(" h ") if " h " in phrase.figure else ("", "", phrase.figure)
        said = int(hours or 0) * 60 + int(rest) if "h" not in rest else int(rest.removesuffix(" h")) * 60
        is_good = phrase.words.endswith(("in hand", "ahead"))
        assert (said if is_good else -said) <= minutes + 1e-5


def test_a_suit_is_short_and_a_sortie_is_over() -> None:
    """The word for a negative margin fits what it is a margin of."""
    assert str(words.suit_margin(-5.1)) == "6 min short"
    assert str(words.suit_margin(26.0)) == "26 min in hand"


def test_a_figure_and_its_words_come_apart() -> None:
    """A headline can set the figure large and the words small."""
    assert words.margin(-7.3) == ("8", "min over")
    assert words.margin(113) == ("1 h 53", "min in hand")
    assert words.margin(None) == ("", "not known yet")


@pytest.mark.parametrize(
    ("minutes", "text"),
    [
        (112.9, "in 1 h 52 min"), (10.0, "in 10 min"), (9.51, "in 9 min 30 s"), (0.5, "in 30 s"), (0.0, "in 0 s"),
        (-0.1, "1 min past"), (-75.0, "1 h 15 min past"), (None, "not known yet"),
    ],
)
def test_seconds_only_in_the_last_ten_minutes(minutes: float | None, text: str) -> None:
    """A countdown shows seconds only under ten minutes, and says past when it is."""
    assert words.countdown(minutes) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (12.9, "12 s ago"), (0, "0 s ago"), (-2, "0 s ago"), (60, "1 min ago"), (7 * 60 + 59, "7 min ago"),
        (72 * 60, "1 h 12 min ago"), (-30, "ahead of this clock"), (None, "none yet"),
    ],
)
def test_ages(seconds: float | None, text: str) -> None:
    """An age is in seconds under a minute, and a thing from the future is not called fresh."""
    assert words.age(seconds) == text


@pytest.mark.parametrize(
    ("late", "text"), [(17.0, "began 17 min late"), (-6.0, "began 6 min early"), (0.3, ""), (None, "")]
)
def test_how_a_start_compares(late: float | None, text: str) -> None:
    """A start is late or early against the brief, and nothing is said when it was on it."""
    assert words.began(late) == text


def test_a_projected_start_is_not_called_begun() -> None:
    """What has not begun starts; what has begun began."""
    assert words.starts(5.0) == "starts 5 min late"


def test_work_of_a_task() -> None:
    """Work so far stands against the planned length, and work over it says so."""
    assert words.worked_of(33.8, 35) == "33 of 35 min"
    assert words.worked_of(41.2, 35) == "41 min, planned 35"
    assert words.worked_of(None, 35) == "start not known, planned 35 min"
    assert words.took(41.0, 40) == "41 min, briefed 40"
    assert words.took(None, 40) == "start not known, briefed 40 min"
    assert words.to_go(0.0) == "1 min to go"


@pytest.mark.parametrize(
    ("probability", "text"),
    [
        (0.939, "93 %"), (0.9999, "99 %"), (1.0, "over 99 %"), (0.004, "under 1 %"), (0.0, "under 1 %"),
        (0.29, "29 %"), (None, "not known yet"),
    ],
)
def test_a_chance_is_never_certain(probability: float | None, text: str) -> None:
    """A probability rounds down and is never said to be 0 or 100 %."""
    assert words.chance(probability) == text


@pytest.mark.parametrize(
    ("value", "consumable", "towards", "text"),
    [
        (0.419, "oxygen", "down", "0.41 kg"), (2.97, "water", "down", "2.9 kg"), (290.9, "battery", "down", "290 Wh"),
        (0.411, "oxygen", "up", "0.42 kg"), (0.55, "co2", "down", "0.55 kg"), (0.09, "oxygen", "up", "0.09 kg"),
        (None, "water", "down", "not known yet"),
    ],
)
def test_amounts_carry_their_unit(value: float | None, consumable: str, towards: Any, text: str) -> None:
    """An amount has its unit and no more figures than it deserves; what is left rounds down."""
    assert words.amount(value, consumable, towards) == text


def test_what_a_task_waits_for() -> None:
    """What holds a task back is said by title, with the PET until which it does."""
    titles = {"T040": "Release tray bolts"}
    wait = Waits(kind="task", name="T040", until_pet_min=127.2)
    tasks = follow_at(plan_of(task("T040", "EV1", 0, 30)), "0:00 clock\n0:00 start T040\n0:30 done T040", "0:31").tasks
    assert words.waits_for(wait, titles, {}) == "waits for Release tray bolts until PET 2:08"
    assert words.waits_for(wait, titles, tasks) == "lag after Release tray bolts until PET 2:08"
    assert words.waits_for(Waits(kind="window", name="daylight", until_pet_min=216), titles, {}) == (
        "waits for daylight until PET 3:36"
    )
    assert words.waits_for(Waits(kind="not before", until_pet_min=100), titles, {}) == "not before PET 1:40"
    assert words.waits_for(Waits(kind="lane", name="EV2"), titles, {}) == "waits for lane EV2"
    assert words.waits_for(Waits(kind="hold"), titles, {}) == "on hold"
    assert words.waits_for(Waits(kind="now"), titles, {}) == words.waits_for(None, titles, {}) == ""


def test_what_became_of_a_log_entry() -> None:
    """A late, amended and withdrawn entry says all three."""
    at = datetime(2031, 4, 12, 10, 0, tzinfo=UTC)
    plain = LogEntry(
        id="e1", kind="note", at=at, received=at, pet_min=50, seq=1, by=None, text="x", late_min=None, amended_by=[],
        withdrawn_by=None,
    )
    assert words.entry_marks(plain) == ""
    marked = plain.model_copy(update={"late_min": 3.2, "amended_by": ["e2"], "withdrawn_by": "e3"})
    assert words.entry_marks(marked) == "entered 4 min late, amended, withdrawn"


def test_counts() -> None:
    """None is a word, one is singular."""
    assert [words.how_many(n, "line") for n in (0, 1, 2)] == ["no lines", "1 line", "2 lines"]
    assert words.how_many(2, "discrepancy", "discrepancies") == "2 discrepancies"


def test_outside_a_window() -> None:
    """Outside daylight is dark; outside anything else says what is missing."""
    assert [words.outside_window(kind) for kind in ("daylight", "link", "camera")] == ["dark", "no comm", "no camera"]


@pytest.mark.parametrize(
    ("factor", "text"), [(1.124, "+12 %"), (0.96, "-4 %"), (0.998, "0 %"), (1.0, "0 %"), (None, "not known yet")]
)
def test_a_factor_is_what_it_adds(factor: float | None, text: str) -> None:
    """More or less than expected, with its sign; no minus before nothing."""
    assert words.against(factor) == text


@pytest.mark.parametrize(("part", "text"), [(0.41, "41 %"), (1.0, "100 %"), (0.004, "under 1 %"), (0.0, "0 %")])
def test_a_share_is_never_nothing_when_it_is_something(part: float, text: str) -> None:
    """A small share is under one percent, not zero."""
    assert words.share(part) == text


def test_what_is_over_is_told_to_the_nearest_minute():
    """Nothing can be prevented any more, so it is not rounded towards danger: 7:09 against 6:56 is 13 minutes."""
    assert words.compared(13.32, "later", "earlier") == "13 min later"
    assert words.compared(-71.6, "later", "earlier") == "1 h 12 min earlier"
    assert words.compared(0.5, "later", "earlier") == words.ON_THE_BRIEF
    assert words.compared(-0.6, "later", "earlier") == "1 min earlier"
    assert words.compared(None, "later", "earlier") == words.NOT_KNOWN


def end_with(*causes: Because) -> Any:
    """An end with these causes, in this order."""
    return EndState.model_construct(because=list(causes))


def test_the_largest_cause_in_the_direction_of_the_end_is_said() -> None:
    """A window is said with when it closes and when the next opens; the time until the next one rounds up."""
    window = Because(
        what="window likely missed", task="T370", min=47.6, window="daylight", until_pet_min=353.0, next_pet_min=389.5
    )
    saved = Because(what="decisions", min=-60.0)
    assert words.because(end_with(window)) == "T370 likely misses daylight until PET 5:53; the next is from PET 6:30"
    assert words.because(end_with(saved, window)) == "decisions save 1 h"
    assert words.because(end_with(saved, window, Because(what="holds", min=20.0))).startswith("T370 likely misses daylight")


@pytest.mark.parametrize("what", words.BECAUSE)
def test_each_cause_has_words_for_later_and_for_sooner(what: Any) -> None:
    """With the minutes, never a minus sign."""
    later, sooner = (words.because_said(Because(what=what, min=minutes)) for minutes in (12.0, -12.0))
    assert later != sooner and "12 min" in later and "12 min" in sooner and "-" not in later + sooner


def test_finished_work_names_the_task_that_took_most() -> None:
    """And without any cause of half a minute nothing is said."""
    said = words.because(end_with(Because(what="finished work", task="T130", min=7.5)))
    assert said == "work so far took 8 min longer than briefed, T130 most of all"
    assert words.because(end_with()) == words.because(end_with(Because(what="holds", min=0.2))) == ""


@pytest.mark.parametrize(
    ("told", "text"),
    [(True, "+12 % against the brief (+3 % to +21 %)"), (False, "+12 % against the brief (+3 % to +21 %), too few to tell")],
)
def test_a_pace_is_said_with_its_range_and_whether_it_can_be_told(told: bool, text: str) -> None:
    """The range always; too few to tell only where the state says so."""
    lane = LaneState.model_construct(pace=1.12, pace_p10=1.03, pace_p90=1.21, pace_told=told)
    assert words.pace(lane) == text
    assert words.pace(LaneState.model_construct(pace=None)) == "no finished task tells of it yet"
