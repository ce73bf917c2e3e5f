"""Words alone."""

from __future__ import annotations

from tests.core.sorties import PLAN
from tests.scenario import follow_at


def test_a_note_changes_nothing() -> None:
    """Whatever its time: it stands in the log, and no figure moves."""
    without = follow_at(PLAN, "0:00 clock\n0:00 start A", "0:10")
    having = follow_at(PLAN, "0:00 clock\n0:00 start A\n0:05 note text=fogging\n-90:00 note text=early", "0:10")
    assert (having.lanes, having.tasks, having.end, having.discrepancies) == (
        without.lanes, without.tasks, without.end, without.discrepancies
    )
