"""Windows: joined, and the earliest and latest start inside one of each kind."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.core.plan.model import Window
from dashboard.core.schedule.windows import (
    earliest_in_windows,
    kinds_missed,
    latest_in_windows,
    windows_by_kind,
)


def windows_of(*table: tuple[str, float, float]):
    return windows_by_kind([Window(kind=kind, from_=begin, to=to) for kind, begin, to in table])


TWO = windows_of(("day", 30, 60), ("day", 120, 180), ("contact", 50, 130))


def test_windows_of_a_kind_that_touch_or_overlap_count_as_one():
    """In order of time, each kind by itself."""
    found = windows_of(("day", 60, 90), ("day", 0, 30), ("day", 30, 61), ("contact", 40, 50))
    assert {kind: [(w.from_, w.to) for w in some] for kind, some in found.items()} == {
        "day": [(0, 90)], "contact": [(40, 50)]
    }


@pytest.mark.parametrize(
    ("needs", "start", "length", "at"),
    [
        (["day"], 0, 30, 30), (["day"], 40, 20, 40), (["day"], 41, 20, 120), ([], 7, 500, 7), (["day", "contact"], 0, 10, 50),
        (["contact", "day"], 51, 10, 120),
    ],
)
def test_the_earliest_start_lies_inside_a_window_of_each_kind(needs, start, length, at):
    """In the first that hold it together."""
    assert earliest_in_windows(TWO, needs, start, length) == (at, False)


@pytest.mark.parametrize(
    ("needs", "length", "kinds"),
    [
        (["day"], 61, ["day"]), (["contact", "day"], 70, ["day"]), (["contact", "day"], 11, ["contact", "day"]),
        (["day", "night"], 5, ["night"]),
    ],
)
def test_work_that_no_window_holds_stays_where_it_is_and_the_kinds_are_named(needs, length, kinds):
    """The kinds that cannot hold it alone; both where it is only together that they do not."""
    assert earliest_in_windows(TWO, needs, 7, length) == (7, True)
    assert kinds_missed(TWO, needs, 7, length) == kinds


minutes = st.integers(0, 100).map(float)
tables = st.lists(st.tuples(st.sampled_from(("day", "contact")), minutes, st.integers(1, 60)), max_size=8)


@given(tables, st.lists(st.sampled_from(("day", "contact")), unique=True), minutes, st.integers(0, 40))
def test_earliest_and_latest_starts_are_those_of_trying_every_minute(table, needs, start, length):
    """With windows and lengths in whole minutes."""
    windows = windows_of(*((kind, begin, begin + more) for kind, begin, more in table))

    def fits(at: float) -> bool:
        return all(any(w.from_ <= at and at + length <= w.to for w in windows.get(kind, ())) for kind in needs)

    later = next((at for at in np.arange(start, 200) if fits(at)), None)
    assert earliest_in_windows(windows, needs, start, length) == ((start, True) if later is None else (later, False))
    earlier = next((at for at in np.arange(start, -1, -1) if fits(at)), start)
    assert latest_in_windows(windows, needs, start, length) == earlier
