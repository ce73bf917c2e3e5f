"""Arithmetic for single numbers and arrays alike."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.core.schedule.float_or_array import anywhere, latest, where

rows = st.lists(st.floats(-50, 50), min_size=3, max_size=3).map(np.array)


@given(st.lists(st.floats(-50, 50) | rows, min_size=1, max_size=6))
def test_latest_is_the_maximum_of_each_draw(values):
    """Of floats a float; with an array among them an array. What was handed in stays as it was."""
    before = [np.copy(value) for value in values]
    found = latest(values)
    assert np.array_equal(np.broadcast_to(found, 3), np.max([np.broadcast_to(value, 3) for value in values], axis=0))
    assert isinstance(found, np.ndarray) == any(isinstance(value, np.ndarray) for value in values)
    assert all(np.array_equal(value, copy) for value, copy in zip(values, before, strict=True))


def test_the_latest_of_nothing_is_an_error():
    """There is no earliest time to fall back on."""
    with pytest.raises(ValueError, match="empty"):
        latest([])


def test_where_takes_one_or_the_other():
    """For a single truth value the thing itself; for an array element by element."""
    row = np.array([1.0, 2.0])
    assert where(True, row, 0.0) is row
    assert where(False, row, 5.0) == 5.0
    assert where(np.array([True, False]), row, 7.0).tolist() == [1.0, 7.0]


def test_anywhere_is_whether_it_holds_in_one_draw():
    """One is enough."""
    assert [anywhere(c) for c in (True, False, np.array([False, True]), np.array([False, False]))] == [True, False, True, False]
