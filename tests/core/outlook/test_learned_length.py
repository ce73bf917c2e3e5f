"""What recorded runs say of a length is plain data."""

from __future__ import annotations

from dashboard.core.outlook.learned_length import LearnedLength


def test_it_holds_the_median_between_its_bounds():
    """In minutes, with what it was learned from."""
    one = LearnedLength(40.0, 35.0, 46.0, 6, 3)
    assert one.low_min < one.median_min < one.high_min and (one.tasks, one.runs) == (6, 3)
