"""What went on in each lane: stretches that neither overlap nor leave gaps."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from dashboard.core.base.times import parse_instant
from dashboard.core.debrief.lane_time import Claim, partition
from dashboard.core.debrief.look_back import lane_debriefs
from tests.core.debrief.made import PLAN, made
from tests.core.state.test_properties import PLAN as ANY_PLAN
from tests.core.state.test_properties import logs
from tests.scenario import at, follow_at


def test_stronger_work_has_the_minute():
    """Of two tasks in one lane the one that began later has the time; what nothing claims is idle."""
    found = partition([Claim(0, 20, "work", "A"), Claim(10, 15, "work", "B"), Claim(0, 30, "hold", "C")], 0, 40)
    assert [(s.kind, s.task, s.minutes) for s in found] == [
        ("work", "A", 10), ("work", "B", 5), ("work", "A", 5), ("hold", "C", 10), ("idle", None, 10),
    ]  # fmt: skip


@given(log=logs(), pet=st.integers(-5, 330))
def test_the_stretches_of_a_lane_follow_each_other(log, pet):
    """They neither overlap nor leave gaps, and end with the lane's last work."""
    for lane in lane_debriefs(ANY_PLAN, log, parse_instant(at(pet))).values():
        for first, second in zip(lane.segments, lane.segments[1:], strict=False):
            assert first.to_pet_min == second.from_pet_min
        if lane.segments:
            assert lane.segments[-1].to_pet_min == lane.end_pet_min


def test_the_lane_end_is_that_of_the_state():
    """The debrief and the board agree on when a lane was, or will be, through."""
    log = "0:00 clock\n0:00 start T010\n0:00 start T030\n0:41 done T010\n0:42 start T020"
    facts, state = made(PLAN, log, "0:55"), follow_at(PLAN, log, "0:55")
    assert facts.so_far
    assert {name: lane.end_pet_min for name, lane in facts.lanes.items() if lane.end_pet_min} == {
        name: lane.end_pet_min for name, lane in state.lanes.items() if lane.end_pet_min
    }
