"""Lanes stand in one order, with joint work side by side."""

from __future__ import annotations

from dashboard.figures.columns import column_order, runs
from tests.scenario import plan_of, task


def test_lanes_that_work_together_stand_together() -> None:
    """EV1 works with the arm and with EV2, so EV1 stands between them."""
    plan = plan_of(
        task("T010", "EV1 EV2", 0, 30) + task("T020", "ARM EV1", 30, 20) + task("T030", "EV2", 30, 90)
    )
    assert column_order(plan) == ["EV2", "EV1", "ARM"]


def test_the_longer_joint_work_wins() -> None:
    """When not all joint work can be side by side, the one with more minutes is."""
    plan = plan_of(
        task("T010", "EV1 EV2", 0, 30) + task("T020", "ARM EV1", 30, 20) + task("T030", "ARM EV2", 50, 100)
    )
    assert column_order(plan) == ["EV1", "EV2", "ARM"]


def test_without_joint_work_the_plan_decides() -> None:
    """Lanes without joint work stand in the order of the plan file."""
    assert column_order(plan_of(task("T010", "EV1", 0, 30))) == ["EV1", "EV2", "ARM"]


def test_neighbours_are_one_stretch() -> None:
    """Neighbouring columns are one stretch, columns apart are two; a lane that is not there is left out."""
    place = {"EV1": 0, "EV2": 1, "ARM": 2}
    assert runs(["EV2", "EV1"], place) == [(0, 1)]
    assert runs(["ARM", "EV1"], place) == [(0, 0), (2, 2)]
    assert runs(["ARM", "EV2", "EV1"], place) == [(0, 2)]
    assert runs(["nobody"], place) == []
