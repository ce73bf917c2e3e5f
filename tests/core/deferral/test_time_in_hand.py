"""Get-aheads that fit: which, where, and until when."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.advise import advise
from dashboard.core.deferral.time_in_hand import GetAheadPlace
from dashboard.core.record.fold import reconcile
from tests.core.deferral.cases import ARM_LANE, HOME, LANES, advised
from tests.scenario import at, log_of, plan_of, task


def test_with_time_in_hand_get_aheads_that_fit_are_named():
    """G fits, the long one does not."""
    tables = task("A", "EV1", 0, 40) + task("G", "EV2", None, 20, get_ahead=True, priority=3)
    tables += task("LONG", "EV2", None, 300, get_ahead=True, priority=3) + HOME
    assert list(advised(tables).get_ahead) == ["G"]


@pytest.mark.parametrize(("minutes", "offered"), [(15, ["G"]), (25, [])])
def test_a_get_ahead_of_the_arm_is_over_by_the_limit_too(minutes, offered):
    """It begins at 1:20, where no crew member waits for it; the limit is 1:40."""
    tables = ARM_LANE + task("A", "EV1", 0, 40) + HOME + task("G", "ARM", None, minutes, get_ahead=True, not_before=80)
    assert list(advised(tables).get_ahead) == offered


def test_a_get_ahead_goes_before_the_way_home_and_can_be_started_until():
    """20 min of G and 10 of the way home end by the limit of 100 when G begins by 70."""
    tables = task("A", "EV1", 0, 40) + HOME + task("G", "EV2", None, 20, get_ahead=True)
    assert advised(tables).get_ahead == {"G": GetAheadPlace(None, 0, 70)}


@pytest.mark.parametrize(("limit", "until"), [(100, 59), (100.5, 59), (99.9, 58)])
def test_the_latest_start_of_a_get_ahead_is_exact_to_the_minute(limit, until):
    """25 min of G and 16 of the way home fit the limit from 0:59 on: 59 + 25 + 16 = 100; a part of a minute is dropped."""
    tables = task("A", "EV1", 0, 40) + task("H", "EV1 EV2", 50, 16, required=True) + task("G", "EV2", None, 25, get_ahead=True)
    lanes = LANES.replace("limit = 100", f"limit = {limit}")
    record = reconcile(plan_of(lanes + tables), log_of("0:00 clock\n0:00 start A"), parse_instant(at("0:02")))
    assert advise(record, basis="plan-pace").get_ahead["G"].until_pet_min == until


@pytest.mark.parametrize(("minutes", "offered"), [(70, []), (15, ["FIRST", "NEXT"])])
def test_a_get_ahead_is_offered_only_with_what_it_comes_after(minutes, offered):
    """NEXT is worth more, but comes after FIRST: it is offered after FIRST, and not at all when FIRST does not fit."""
    tables = (
        task("A", "EV1", 0, 40) + HOME + task("NEXT", "EV2", None, 5, get_ahead=True, priority=1, after=["FIRST"])
        + task("FIRST", "EV2", None, minutes, get_ahead=True, priority=3, closeout=1)
    )
    assert list(advised(tables, "0:00 clock\n0:00 start A", "0:25").get_ahead) == offered


def test_a_get_ahead_after_work_that_remains_is_offered():
    """G comes after A, which will be done."""
    tables = task("A", "EV1", 0, 40) + HOME + task("G", "EV2", None, 20, get_ahead=True, after=["A"])
    assert advised(tables).get_ahead == {"G": GetAheadPlace(None, 40, 70)}


def test_a_get_ahead_takes_the_earliest_place_that_fits():
    """EV1 waits for EV2 from 0:20 to 1:00: before J it fits, before HOME the crew would be in past the limit of 1:40."""
    tables = (
        task("P", "EV1", 0, 20) + task("Q", "EV2", 0, 60) + task("J", "EV1 EV2", 60, 30) + HOME.replace("110", "90")
        + task("G", "EV1", None, 25, get_ahead=True)
    )
    log = "0:00 clock\n0:00 start P\n0:00 start Q"
    assert advised(tables, log, "0:10").get_ahead == {"G": GetAheadPlace("P", 20, 35)}
    late = tables.replace('id = "J"', 'id = "J"\nneeds = ["daylight"]') + '[[window]]\nkind = "daylight"\nfrom = 0\nto = 92\n'
    assert advised(late, log, "0:10").get_ahead == {"G": GetAheadPlace("P", 20, 35)}
    assert advised(late.replace("duration = 25", "duration = 45"), log, "0:10").get_ahead == {}


def test_a_get_ahead_goes_behind_what_it_follows():
    """G follows P. K takes its place at once, ahead of P, and G then begins when P is over."""
    tables = (
        task("P", "EV1", 0, 20) + task("Q", "EV2", 0, 70) + task("J", "EV1 EV2", 70, 20) + HOME.replace("110", "90")
        + task("G", "EV1", None, 20, get_ahead=True, follows=[{"task": "P", "lag": 0}])
        + task("K", "EV1", None, 15, get_ahead=True)
    )
    found = advised(tables, "0:00 clock\n0:00 start Q", "0:00").get_ahead
    assert found["G"] == GetAheadPlace("P", 35, 50)
    assert found["K"] == GetAheadPlace(None, 0, 55)
