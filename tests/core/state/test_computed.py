"""Numbers of the state for JSON."""

from __future__ import annotations

from dashboard.core.state.computed import finite


def test_a_time_that_never_comes_is_none():
    """JSON has no infinity."""
    assert (finite(12.5), finite(float("inf")), finite(float("-inf"))) == (12.5, None, None)
