"""What the rooms of real sorties gave up, and how it is counted."""

from __future__ import annotations

from datetime import timedelta

import pytest

from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from replay.moments import truth_of
from replay.recording import load_run
from tests.bench.bench_sorties import HERE, Moment, as_meant
from tests.bench.real_calls import first_cut, minutes_given_up, told


@pytest.mark.parametrize(("name", "at", "what", "minutes"), [
    ("apollo16_eva1", 5 * 60 + 21, "STATION-2 to 19 min", 37.0),
    ("apollo16_eva2", 3 * 60 + 50, "STATION-7", 15.0),
    ("apollo17_eva1", 4 * 60 + 15, "STATION-1 to 30 min", 30.0),
])  # fmt: skip
def test_the_first_cut_of_each_room_is_found_in_its_log(name: str, at: float, what: str, minutes: float) -> None:
    """PET to the minute; minutes of work at the lengths of the plan."""
    cut = first_cut(load_run(HERE / name))
    assert cut.pet_min == pytest.approx(at, abs=1.0)
    assert (cut.what, cut.minutes) == (what, minutes)


def test_a_forecast_is_held_against_the_end_without_what_was_given_up_after_it() -> None:
    """37 min were given up at PET 5:21: before that each error is so much less, after it as it was."""
    run = load_run(HERE / "apollo16_eva1")
    before, after = (Moment(pet, -20.0, 0.0, 30.0, -10.0, -5.0) for pet in (320.0, 322.0))
    assert as_meant(run, before) == (320.0, -57.0, -37.0, -7.0, -47.0, -42.0)
    assert as_meant(run, after) == after


def test_what_a_change_gives_up_is_counted_in_minutes_of_work() -> None:
    """60 min cut to 23 and a drive of 5 min left out: 42 min. Work in hand, broken off after 100 of 117 min: 17 more."""
    run = load_run(HERE / "apollo17_eva1")
    now = truth_of(run).pet_zero + timedelta(minutes=100)
    record = reconcile(run.plan, run.known_at(now), now)
    change = Change(defer=("DRIVE-3",), trim={"STATION-1": 23.0})
    assert minutes_given_up(record, change) == 42.0
    assert minutes_given_up(record, change.but(break_off=("OUT",))) == 59.0


def test_the_room_of_apollo_17_would_have_been_told_half_an_hour_before_it_cut_the_stop() -> None:
    """The limit of the plan is ours, so that it was told is all that is held."""
    assert told(HERE / "apollo17_eva1").told_in_time
