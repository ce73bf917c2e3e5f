"""Rules of plain English that the core needs itself."""

import pytest

from dashboard.core.base.wording import listed, shortened


@pytest.mark.parametrize(
    ("names", "text"),
    [
        ([], ""),
        (["A"], "A"),
        (["A", "B"], "A and B"),
        (["A", "B", "C"], "A, B and C"),
        (("A", "B", "C", "D"), "A, B, C and D"),
    ],
)
def test_names_are_listed_with_one_and(names, text: str):
    """Commas between the first, `and` before the last."""
    assert listed(names) == text


def test_a_long_text_says_how_much_more_there_is():
    """One that fits stays as it is."""
    assert shortened("x" * 310, 300) == "x" * 300 + " ... (10 more characters)"
    assert shortened("x" * 300, 300) == "x" * 300
