"""Apollo 16, first sortie, debriefed: the hatch 13 minutes late, and where they went (sources: see the log and README)."""

from __future__ import annotations

import pytest

from dashboard.core.debrief.look_back import debrief
from tests.published.test_apollo16_eva1 import SECOND_MIN, instant, plan_and_log


@pytest.fixture(scope="module")
def facts():
    plan, log = plan_and_log()
    return debrief(plan, log.events, instant("126:04:35"), unread=log.unread, draws=0)


def test_the_hatch_thirteen_minutes_late_adds_up(facts):
    """PET 7:09 against 6:56 (Journal commentary 128:49:06), and the lines of both lanes add up to it."""
    assert facts.end.difference_min == pytest.approx(13.32, abs=SECOND_MIN)
    for lane in facts.lanes.values():
        assert sum(line.minutes for line in lane.ledger) == pytest.approx(13.32, abs=SECOND_MIN)


def test_the_cut_of_station_2_is_what_was_won(facts):
    """Cut from 56 to 19 min (voice transcription 124:14:38): 37 min won; it then took 27.2, 8.2 over the cut."""
    for lane in facts.lanes.values():
        found = {line.kind: line.minutes for line in lane.ledger if line.task == "STATION-2"}
        assert found == {"trimmed": -37, "overrun": pytest.approx(8.17, abs=SECOND_MIN)}
        assert lane.ledger[0].task == "STATION-2"


def test_the_drive_to_station_1_is_among_the_losses(facts):
    """Planned 13 min, driven in 25.9 (commentary 128:49:06): 12.9 min lost in both lanes."""
    for lane in facts.lanes.values():
        assert next(line.minutes for line in lane.ledger if line.task == "DRIVE-1") == pytest.approx(12.87, abs=SECOND_MIN)


def test_the_cut_was_made_on_a_hatch_24_minutes_late(facts):
    """Before it the plan-pace end was 7:20 (416 + 24 min), after it 37 min less."""
    cut = next(one for one in facts.decisions if one.kind == "trim")
    assert cut.end_pet_min == pytest.approx(416 + 23.98, abs=SECOND_MIN)
    assert cut.end_after_pet_min == pytest.approx(416 + 23.98 - 37, abs=SECOND_MIN)


def test_the_heat_flow_experiment_is_carried_over(facts):
    """It was given up (voice transcription 121:22:45) and nothing else was left."""
    assert [(one.task, one.because) for one in facts.carry_over] == [("HEAT", "broken off")]
