"""Comparing two clocks by one question and its answer."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from dashboard.service.observe.clocks import CLOCK_OFF_S, Offset, offset_of

NOON = datetime(2031, 4, 12, 12, 0, tzinfo=UTC)


def test_the_answer_is_compared_with_the_middle_between_question_and_answer():
    """The way there and back cannot be told apart, so half of it is the most by which the offset is wrong."""
    offset = offset_of(NOON, NOON + timedelta(seconds=12), NOON + timedelta(seconds=4))
    assert offset == Offset(10.0, 2.0)


@pytest.mark.parametrize(
    ("ahead_s", "error_s", "is_off"),
    [(0.0, 0.0, False), (CLOCK_OFF_S, 0.0, False), (-CLOCK_OFF_S - 0.1, 0.0, True), (CLOCK_OFF_S + 1, 1.5, False)],
)
def test_a_clock_is_off_only_when_that_is_certain(ahead_s: float, error_s: float, is_off: bool):
    """A slow answer says little."""
    assert Offset(ahead_s, error_s).is_off is is_off


@pytest.mark.parametrize(
    ("ahead_s", "said"),
    [(0.31, "0.3 s ahead"), (-12.4, "12 s behind"), (200, "3 min ahead"), (-7200, "2 h behind")],
)
def test_offsets_in_words(ahead_s: float, said: str):
    """With their direction."""
    assert Offset(ahead_s, 0.0).in_words() == said
