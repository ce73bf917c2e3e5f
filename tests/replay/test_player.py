"""The clock of a replay."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replay.player import Player

FIRST = datetime(2031, 4, 12, 9, 10, tzinfo=UTC)
LAST = FIRST + timedelta(hours=6)


def at_pet(minutes: float) -> datetime:
    return FIRST + timedelta(minutes=minutes)


def player(at: datetime = FIRST, speed: float = 60.0, playing: bool = False) -> Player:
    return Player(FIRST, LAST, anchor=at, anchor_s=100.0, speed=speed, playing=playing)


def test_at_speed_60_a_real_second_is_a_minute_of_the_sortie():
    """The clock moves by real seconds times speed while it plays."""
    assert player(playing=True).at(105.0) == at_pet(5)


def test_a_paused_clock_stands_still():
    """Real time does not move a paused clock."""
    assert player(at_pet(30)).at(1000.0) == at_pet(30)


def test_pause_and_play_go_on_where_the_clock_stood():
    """The time spent paused does not count."""
    paused = player(playing=True).pause(110.0)
    assert paused.at(200.0) == at_pet(10)
    assert paused.play(200.0).at(205.0) == at_pet(15)


def test_changing_the_speed_makes_no_jump():
    """The clock goes on from where it was, at the new speed."""
    faster = player(playing=True).with_speed(110.0, 600.0)
    assert faster.at(110.0) == at_pet(10)
    assert faster.at(111.0) == at_pet(20)


@pytest.mark.parametrize("speed", [0.0, 0.5, 601.0, -60.0, float("nan"), float("inf")])
def test_a_speed_outside_1_to_600_is_refused(speed: float):
    """The message names the range."""
    with pytest.raises(ValueError, match="from 1 to 600"):
        player().with_speed(100.0, speed)


def test_seek_keeps_playing():
    """A clock that plays goes on from the new place."""
    assert player(playing=True).seek(110.0, at_pet(100)).at(111.0) == at_pet(101)


def test_step_goes_to_the_next_event_and_pauses_there():
    """Next is strictly later than where the clock is."""
    marks = [at_pet(0), at_pet(12), at_pet(40)]
    stepped = player(at_pet(12), playing=True).step(100.0, marks)
    assert (stepped.at(500.0), stepped.playing) == (at_pet(40), False)


def test_step_back_goes_to_the_event_before():
    """Previous is strictly earlier than where the clock is."""
    marks = [at_pet(0), at_pet(12), at_pet(40)]
    assert player(at_pet(12)).step(100.0, marks, "previous").at(100.0) == at_pet(0)
    assert player(at_pet(13)).step(100.0, marks, "previous").at(100.0) == at_pet(12)


def test_step_with_no_event_left_goes_to_the_end_of_the_run():
    """And back, to its beginning."""
    assert player(at_pet(50)).step(100.0, [at_pet(12)]).at(100.0) == LAST
    assert player(at_pet(5)).step(100.0, [at_pet(12)], "previous").at(100.0) == FIRST


def test_the_clock_stops_at_the_end_and_plays_from_the_beginning_again():
    """At the end it no longer runs; play starts over."""
    ended = player(at_pet(359), playing=True)
    assert ended.at(1000.0) == LAST
    assert not ended.running(1000.0)
    assert ended.play(1000.0).at(1001.0) == at_pet(1)


def test_a_run_that_is_still_being_made_is_not_begun_anew():
    """Play at its end stays there, and a step with no event left leads nowhere."""
    rehearsed = Player(FIRST, LAST, anchor=at_pet(359), anchor_s=100.0, playing=True, open_end=True)
    assert rehearsed.play(1000.0).at(1001.0) == LAST
    assert rehearsed.seek(100.0, at_pet(50)).step(100.0, [at_pet(12)]).at(100.0) == at_pet(50)


def test_a_run_that_ends_elsewhere_moves_no_clock_within_it():
    """One that plays goes on; one that stood at its end, told to play or not, stays there though the run now goes on."""
    earlier, later = at_pet(300), LAST + timedelta(hours=1)
    assert player(at_pet(10), playing=True).until(110.0, earlier).at(120.0) == at_pet(30)
    assert player(at_pet(359), playing=True).until(1000.0, later).at(2000.0) == LAST
    assert player(at_pet(350)).until(100.0, earlier).at(100.0) == earlier


def controlled(clock: Player, control: str, counter_s: float, minutes: float, speed: float) -> Player:
    if control == "seek":
        return clock.seek(counter_s, at_pet(minutes))
    if control == "speed":
        return clock.with_speed(counter_s, speed)
    if control in ("next", "previous"):
        return clock.step(counter_s, [at_pet(7), at_pet(100)], control)
    return clock.play(counter_s) if control == "play" else clock.pause(counter_s)


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["play", "pause", "seek", "speed", "next", "previous"]),
            st.floats(0, 1e6),
            st.floats(-1e4, 1e4),
            st.floats(1, 600),
        ),
        max_size=20,
    )
)
def test_no_control_takes_the_clock_out_of_the_run(controls):
    """Whatever is done in whatever order, the clock stays between the beginning and the end."""
    clock, counter_s = player(), 100.0
    for control, wait_s, minutes, speed in controls:
        counter_s += wait_s
        clock = controlled(clock, control, counter_s, minutes, speed)
        assert FIRST <= clock.at(counter_s) <= LAST
        assert FIRST <= clock.at(counter_s + wait_s) <= LAST
