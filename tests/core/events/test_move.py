"""Another lane, or another place in the order."""

from __future__ import annotations

from tests.core.sorties import PLAN, complaints
from tests.scenario import follow_at


def test_moves_change_lane_and_order():
    """E handed to EV1 before B."""
    state = follow_at(PLAN, "0:00 clock\n0:01 move E lane=EV1 before=B", "0:02")
    assert state.tasks["E"].lanes == ["EV1"]
    assert state.lanes["EV1"].order[:3] == ["A", "E", "B"]
    assert state.discrepancies == []
    assert complaints("0:00 clock\n0:01 move A lane=EV2", "0:02") == [
        ("A to be handed to no other lane", "handed to EV2; applied")
    ]
