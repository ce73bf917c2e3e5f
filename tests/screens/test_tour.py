"""The guided tour."""

from __future__ import annotations

from dashboard.screens import tour
from dashboard.screens.page import page_layout
from tests.screens.plans import plain_plan
from tests.screens.test_keys import ids_in


def test_each_stop_is_a_region_of_the_page() -> None:
    """Six of them, no two the same; only a page that is asked to offers the tour."""
    there = ids_in(page_layout(plain_plan(), touring=True))
    regions = [region for region, _, _ in tour.STOPS]
    assert len(set(regions)) == 6 and set(regions) <= there
    assert tour.Tour.BOX in there and tour.Tour.BOX not in ids_in(page_layout(plain_plan()))
