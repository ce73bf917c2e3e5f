"""The caution that stands beside all advice."""

from dashboard.core.base.caution import CAUTION


def test_it_says_what_the_advice_is_not():
    """It is advisory, it names who decides, and it claims no certification."""
    assert CAUTION.startswith("Advisory only.")
    assert "flight controllers and physicians decide" in CAUTION
    assert CAUTION.endswith("Not certified for flight use.")
