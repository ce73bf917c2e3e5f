"""PET zero while no `clock` event stands: the planned start, said loudly, and not believed against the log."""

from __future__ import annotations

import pytest

from dashboard.screens.headline import snapshot
from dashboard.screens.ids import Headline
from tests.scenario import follow_at, plan_of, task

PLAN = plan_of(
    task("A", "EV1", 0, 30) + task("B", "EV1", 110, 30) + task("C", "EV2", 0, 400)
    + '[[check]]\nid = "suit-read"\nevery = 30\nlanes = ["EV1"]\n'
)


def alert(state):
    return next((a for a in state.alerts if a.id == "no-clock"), None)


@pytest.mark.parametrize("pet", ["0:01", "3:00", "9:00"])
def test_a_sortie_that_has_not_begun_asks_for_pet_zero_and_nothing_else(pet: str):
    """However long after the planned start: words say why, and the one alert is to settle PET zero."""
    state = follow_at(PLAN, "0:00 note waiting", pet)
    assert state.basis.pet_zero_doubt == "the sortie has not begun by the log"
    assert [a.id for a in state.alerts] == ["no-clock"]
    assert "no clock event" in alert(state).what and "clock event" in alert(state).do
    assert snapshot(PLAN, state)[Headline.LANES].count("behind") == 0
    assert "not begun by the log" in snapshot(PLAN, state)[Headline.END]


def test_the_figures_of_the_state_count_from_the_planned_start_until_a_clock_event_stands():
    """Nothing logged at PET 1:00: 60 min of EV2's work not earned, as the definition has it."""
    state = follow_at(PLAN, "0:00 note waiting", "1:00")
    assert state.lanes["EV2"].ahead_min == -60
    assert state.end.plan_pace_pet_min == 460


@pytest.mark.parametrize(
    ("log", "says"),
    [
        ("-0:20 start A", "before the planned start"),
        ("3:00 start A", "3 h after its brief"),
        ("-0:20 done A\n0:10 start B", "before the planned start"),
    ],
)
def test_a_planned_start_that_the_log_contradicts_is_not_believed(log: str, says: str):
    """Work before it, or far later than briefed: it is in doubt until a clock event stands."""
    state = follow_at(PLAN, log, "3:10")
    assert says in state.basis.pet_zero_doubt
    known = follow_at(PLAN, f"{log}\n2:58 clock", "3:10")
    assert known.basis.pet_zero_doubt is None
    assert alert(known) is None


@pytest.mark.parametrize("log", ["0:03 start A", "2:05 start B", "0:40 done A"])
def test_a_planned_start_that_fits_the_log_stands_for_pet_zero(log: str):
    """Work near its brief, or a log taken up in mid-sortie: the figures stand, under the alert."""
    state = follow_at(PLAN, log, "2:10")
    assert state.basis.pet_zero_doubt is None
    assert state.lanes["EV1"].ahead_min is not None
    assert alert(state).what == "PET zero is the planned start: no clock event"


def test_before_the_planned_start_nothing_is_amiss():
    """No alert, and PET counts down to it."""
    state = follow_at(PLAN, "-1:00 note hello", "-0:30")
    assert (state.pet_min, alert(state), state.basis.pet_zero_doubt) == (-30, None, None)
