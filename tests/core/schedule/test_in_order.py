"""Starts from the order of the tasks."""

from __future__ import annotations

from dashboard.core.schedule.in_order import begun_in_order
from tests.scenario import plan_of, task


def test_a_task_begins_when_its_lanes_links_and_windows_let_it() -> None:
    """In the order of the file; a start that is given does not count, and a get-ahead or a task that is named gets none."""
    plan = plan_of(
        task("A", "EV1", 50, 30) + task("B", "EV2", None, [5, 10, 20]) + task("C", "EV1 EV2", None, 15)
        + task("D", "EV2", None, 5, needs=["daylight"]) + task("G", "EV1", 0, 5, get_ahead=True) + task("X", "EV1", 0, 5)
        + task("E", "EV1", None, 5, after=["D"]) + '[[window]]\nkind = "daylight"\nfrom = 60\nto = 90\n'
    )
    starts = {one.id: one.start for one in begun_in_order(plan, {"X"})}
    assert starts == {"A": 0.0, "B": 0.0, "C": 30.0, "D": 60.0, "G": None, "X": None, "E": 65.0}
