"""Rules of plain English that the core needs itself."""

import pytest

from dashboard.core.base.wording import listed


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
