"""Apollo 16, first sortie: the plan and the log as published, followed as if live.

Planned marks and actual times stand in `apollo16_eva1/`, each with its source; the sources are spelled out in
`README.md`. Times here are ground elapsed time (GET), as the sources give them; PET zero is GET 118:53:33.
"""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path

import pytest

from dashboard.core.base.times import minutes_between
from dashboard.core.plan.model import Plan
from dashboard.core.state.follow import follow
from dashboard.core.state.model import ConsumableState, SortieState
from dashboard.log.logfile import LogRead, read_log
from dashboard.log.planfile import load_plan

FOLDER = Path(__file__).parent / "apollo16_eva1"
PET_ZERO_GET = "118:53:33"
KG_PER_LB = 0.45359237
SECOND_MIN = 1 / 60


@cache
def plan_and_log() -> tuple[Plan, LogRead]:
    plan = load_plan(FOLDER / "plan.toml")
    return plan, read_log(FOLDER / "log.jsonl", plan)


def seconds(clock: str) -> int:
    hours, minutes, rest = clock.split(":")
    return int(hours) * 3600 + int(minutes) * 60 + int(rest)


def instant(get: str) -> datetime:
    return plan_and_log()[0].sortie.start + timedelta(seconds=seconds(get) - seconds(PET_ZERO_GET))


def state_at(get: str) -> SortieState:
    plan, log = plan_and_log()
    return follow(plan, log.events, instant(get), draws=0)


def ahead(get: str) -> dict[str, float | None]:
    return {name: lane.ahead_min for name, lane in state_at(get).lanes.items()}


def budget_at(get: str, suit: str, consumable: str) -> ConsumableState:
    return state_at(get).suits[suit].consumables[consumable]


def test_the_plan_and_the_log_are_read_whole():
    """Nothing published is lost on the way in, and nothing in the log contradicts the plan."""
    _, log = plan_and_log()
    assert len(log.events) == 44
    assert log.unread == []
    assert state_at("126:04:35").discrepancies == []


def test_every_event_lies_where_its_source_puts_it():
    """The instant of each event is the ground elapsed time in its note, counted from PET zero."""
    for event in plan_and_log()[1].events:
        get = re.match(r"GET (\d{3}:\d\d:\d\d); ", event.note)
        assert get is not None, event.id
        assert event.at == instant(get[1]), event.id


def test_seven_minutes_behind_with_the_gear_loaded():
    """CDR "about 7 min behind" at GET 120:14:50, PET 1:21 (Journal commentary 120:14:50). Ours: 7.3."""
    state = state_at("120:14:50")
    assert state.pet_min == pytest.approx(81.28, abs=SECOND_MIN)
    assert state.lanes["CDR"].ahead_min == pytest.approx(-7.28, abs=SECOND_MIN)


def test_three_minutes_behind_when_the_packages_are_carried_out():
    """Three minutes behind at GET 120:33:48 (Journal commentary 120:33:46, 128:49:06). Ours: 3.25."""
    assert state_at("120:33:48").lanes["LMP"].ahead_min == pytest.approx(-3.25, abs=SECOND_MIN)


def test_two_to_three_minutes_behind_leaving_the_experiment_site():
    """Two minutes behind at GET 122:58:02, planned 4:02 (Journal commentary 122:47:21, 128:49:06). Ours: 2.5.

    The published marks put the *beginning* of the geology preparation 2.2 min ahead, not behind: planned 3:56, begun
    at PET 3:53:48. It took 10.7 min for 6, and at its end the crew was 2.5 min behind. Two to three minutes is the
    number for leaving; no definition that keeps to the marks gives it for the beginning of the preparation.
    """
    assert ahead("122:47:21") == pytest.approx({"CDR": 2.2, "LMP": 2.2}, abs=SECOND_MIN)
    assert ahead("122:58:02") == pytest.approx({"CDR": -2.48, "LMP": -2.48}, abs=SECOND_MIN)


def test_the_drive_to_station_1_costs_thirteen_minutes():
    """Planned 13 min from 4:02, driven in 25.9: 15.35 min behind at station 1 (all from commentary 128:49:06)."""
    assert ahead("123:23:54") == pytest.approx({"CDR": -15.35, "LMP": -15.35}, abs=SECOND_MIN)


def test_twenty_four_minutes_behind_leaving_station_1():
    """About 24 min behind at PET 5:21, leaving planned at about 4:57 (Journal commentary 124:14:38). Ours: 24.0."""
    assert ahead("124:14:32") == pytest.approx({"CDR": -23.98, "LMP": -23.98}, abs=SECOND_MIN)


def test_twenty_six_minutes_behind_at_the_second_stop():
    """24 to 26 min behind around the second stop; by the marks 5:02 planned, PET 5:27:37 actual. Ours: 25.6.

    The cut was made before the arrival and leaves this figure as it is: it shortens what is still to come.
    """
    assert ahead("124:21:10") == pytest.approx({"CDR": -25.62, "LMP": -25.62}, abs=SECOND_MIN)


def test_before_the_cut_the_hatch_was_projected_24_minutes_late():
    """At plan pace, six seconds before the cut: hatch closed at 7:20 instead of 6:56."""
    end = state_at("124:14:37").end
    assert end.briefed_pet_min == 6 * 60 + 56
    assert end.plan_pace_pet_min == pytest.approx(6 * 60 + 56 + 23.98, abs=SECOND_MIN)


def test_the_cut_of_station_2_from_56_to_19_minutes():
    """Said at GET 124:14:38, the reason (the LMP's cooling water) at 124:15:17 (voice transcription). It wins 37 min."""
    before, after = state_at("124:14:37"), state_at("124:14:38")
    assert before.tasks["STATION-2"].planned_min == 56
    assert after.tasks["STATION-2"].planned_min == 19
    assert after.tasks["STATION-2"].trimmed
    assert before.end.plan_pace_pet_min - after.end.plan_pace_pet_min == pytest.approx(56 - 19)
    assert after.lanes["LMP"].ahead_min == pytest.approx(before.lanes["LMP"].ahead_min)
    assert after.basis.decisions == before.basis.decisions + 1


def test_station_2_took_27_minutes():
    """From GET 124:21:10 to 124:48:20 (voice transcription; commentary 128:49:06): 27.2 min of the 19 it was cut to."""
    station = state_at("124:48:20").tasks["STATION-2"]
    assert station.state == "done"
    assert station.worked_min == pytest.approx(27.17, abs=SECOND_MIN)


def test_after_the_cut_the_delay_stands_until_the_stop_is_over():
    """No figure is published for after the cut; by the marks the crew left station 2 at PET 5:54:47 for a planned 5:58.

    The cut leaves a gap in the briefed work, 5:21 to 5:58. It is credited once the stop before it is over. Until then the
    lane is behind by 25.6 min, and from the 19 min on by more. When the drive back begins at 5:54:47 it is the 3.2 min ahead
    that the marks give. Nothing moves by more than the time that passes, except at an event.
    """
    worked_19_min, before_the_drive = "124:40:10", "124:48:19"
    for clock in ("124:40:09", worked_19_min):
        assert ahead(clock)["LMP"] == pytest.approx(-25.6, abs=0.05)
    assert ahead(before_the_drive)["LMP"] == pytest.approx(-25.6 - (8 + 9 * SECOND_MIN), abs=0.05)
    assert ahead("124:48:20")["LMP"] == pytest.approx(3.2, abs=0.05)


def test_the_heat_flow_experiment_is_given_up():
    """Cable pulled off at GET 121:22:02, given up at 121:22:45 (voice transcription): broken off, left safe, not resumed."""
    state = state_at("121:23:00")
    assert state.tasks["HEAT"].state == "broken off"
    assert state.lanes["LMP"].state == "close-out"
    assert state_at("126:04:35").tasks["HEAT"].finish_pet_min == pytest.approx(149.2, abs=SECOND_MIN)


def test_the_hatch_closed_thirteen_minutes_late():
    """PET 7:09 against 6:56 (Journal commentary 128:49:06): both lanes stay at 13.3 min behind."""
    state = state_at("126:04:35")
    assert state.ended
    assert state.end.plan_pace_pet_min == pytest.approx(7 * 60 + 9.32, abs=SECOND_MIN)
    for lane in state.lanes.values():
        assert lane.ahead_min == pytest.approx(-13.32, abs=SECOND_MIN)
        assert lane.ahead_frozen
    assert ahead("126:02:52") == ahead("126:04:35")


def test_the_sortie_lasted_7_11_02():
    """From PET zero to repressurised (Journal commentary 148:47:33)."""
    plan, log = plan_and_log()
    assert minutes_between(plan.sortie.start, log.events[-1].at) == pytest.approx(7 * 60 + 11 + 2 / 60)
    assert state_at("126:04:35").end.closed_pet_min == pytest.approx(431.03, abs=SECOND_MIN)


def test_the_lmp_s_water_does_not_cover_the_plan_and_the_cut_makes_it():
    """The tone at GET 123:34:23 says 3.5 lb left; the room cut station 2 for this water (voice transcription 124:15:17).

    From the tone on, the water of the LMP's suit is projected to be gone before the hatch is closed; with the cut it
    lasts. Before the tone there was nothing in the log to tell: predicted use was 9.04 lb of 12.04.
    """
    assert budget_at("123:34:22", "LMP", "water").margin_min > 60
    assert budget_at("123:34:23", "LMP", "water").margin_min < 0
    assert budget_at("124:14:37", "LMP", "water").margin_min < budget_at("123:34:23", "LMP", "water").margin_min
    assert budget_at("124:14:38", "LMP", "water").margin_min > 0
    assert budget_at("124:14:37", "LMP", "oxygen").margin_min > budget_at("124:14:37", "LMP", "water").margin_min


def test_how_long_the_lmp_s_water_lasts_is_told_from_the_tone_within_a_fifth():
    """0.42 lb left when the hatch was closed (Mission Report MSC-07230, quoted in the commentary 123:32:19).

    At the use from the tone to the hatch (3.08 lb in 148.5 min) the water would have lasted 169 min from the tone.
    Ours, from that one reading and the predicted use, is 144 min: 15 % short, on the cautious side.
    """
    tone, hatch = "123:34:23", "126:02:52"
    would_last_min = (seconds(hatch) - seconds(tone)) / 60 * 3.5 / (3.5 - 0.42)
    told_min = budget_at(tone, "LMP", "water").reserve_reached_pet_min - state_at(tone).pet_min
    assert would_last_min == pytest.approx(168.7, abs=0.1)
    assert 0.8 < told_min / would_last_min < 1.0
