"""Rules of plain English that the core needs itself."""

import pytest

from dashboard.core.base.wording import kind_of_value, listed, shortened


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


@pytest.mark.parametrize(
    ("value", "said"),
    [(5, "a number"), (0.5, "a number"), (None, "nothing (null)"), ("x", "text"), ([], "a list"), ({}, "an object"),
     (True, "true or false")],
)  # fmt: skip
def test_a_value_is_named_as_people_name_it(value, said: str):
    """No name of a type of Python reaches a sender."""
    assert kind_of_value(value) == said
