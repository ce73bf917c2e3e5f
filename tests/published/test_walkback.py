"""Turn-back and leave-by times against published walk-back rules and limits.

Values and sources: `tests/bench/bench_walkback.py`.
"""

from __future__ import annotations

import pytest

from tests.bench.bench_walkback import (
    LITTLE_WATER_LB,
    LONG_BTU_H,
    SHORT_BTU_H,
    by_time_min,
    rows,
    state_at,
    way_back,
)


def test_never_later_than_published_and_at_most_15_min_earlier():
    """Eight distances at 3.6 or 2.7 km/h, three with little water, and the limit at the farthest stop (READ)."""
    assert [row for row in rows() if not row.holds] == []
    assert len(rows()) == 20


def test_the_rule_of_speeds_is_the_published_one():
    """3.6 km/h up to an hour, 2.7 beyond (READ): 60 min for 3.6 km, 89 for 4."""
    assert way_back(3.6) == (60.0, SHORT_BTU_H)
    assert way_back(4.0) == (pytest.approx(88.9, abs=0.1), LONG_BTU_H)


def test_with_little_water_the_time_alone_would_be_hours_late():
    """4 km out the time alone says 5:01, the water on the way at walking effort 3:21."""
    assert by_time_min(4.0) - (state_at(4.0, LITTLE_WATER_LB).lanes["CDR"].turn_back_pet_min or 0.0) > 90
