"""Earned schedule: the work curve and what a task in work has earned, by hand."""

from __future__ import annotations

import pytest

from dashboard.core.schedule.earned import WorkCurve, earned_part


def test_the_earned_pet_is_where_the_brief_has_done_as_much():
    """Two tasks side by side count twice; all work earned is the briefed end, whatever the time."""
    curve = WorkCurve([(0, 30), (50, 30), (60, 10)])
    assert [curve.pet_of(earned, 0) for earned in (0.5, 29.9, 31, 40, 60)] == pytest.approx([0.5, 29.9, 51, 60, 70])
    assert curve.total_min == 70
    assert curve.pet_of(70, 500) == 80


def test_an_estimate_of_nothing_left_earns_the_whole_length():
    """Zero remaining is all earned, and a task with no work and nothing left is no division by zero."""
    assert earned_part(30, 12, 0) == 30
    assert earned_part(30, 0, 0) == 30


def test_a_gap_that_is_not_credited_yet_is_taken_out_of_the_curve():
    """Work before the gap is not over: the second task's minutes count from the beginning of the gap."""
    curve = WorkCurve([(0, 30), (50, 30), (90, 10)], open_from_pet_min=50)
    assert [curve.pet_of(earned, 40) for earned in (29, 30, 31, 60, 65)] == pytest.approx([29, 40, 51, 80, 85])
    closed = WorkCurve([(0, 30), (50, 30)], open_from_pet_min=0)
    assert [closed.pet_of(earned, 40) for earned in (29, 30, 31, 60)] == pytest.approx([29, 30, 31, 60])
    assert closed.end_pet_min == 80


def test_from_the_start_of_the_next_task_the_gap_counts_as_a_whole():
    """Before any of its minutes is earned."""
    curve = WorkCurve([(0, 30), (50, 30)], open_from_pet_min=50)
    assert (curve.pet_of(30, 40), curve.pet_of(30, 40, begun=True)) == pytest.approx((40, 50))
