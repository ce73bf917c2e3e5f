"""What an empty board offers first."""

from __future__ import annotations

from dashboard.screens.ids import First
from dashboard.screens.page import page_layout
from tests.screens.plans import plain_plan
from tests.screens.test_keys import ids_in


def test_the_page_offers_pet_zero_now_and_at_another_time() -> None:
    """It is there from the start, so that the browser need only show it."""
    assert {First.REGION, First.ZERO, First.ZERO_AT} <= ids_in(page_layout(plain_plan()))
