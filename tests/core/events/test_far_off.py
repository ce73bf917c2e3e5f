"""Events dated far off the sortie."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.events.far_off import counts_then, does_not_belong, far_off, work_agrees
from tests.core.sorties import PLAN
from tests.scenario import PET_ZERO, at, log_of


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("-12:00 start A", None),
        ("19:00 start A", None),
        ("19:01 start A", "dated PET 19:01, the limit is PET 7:00"),
        ("-240:00 start A", "dated 10 days before PET zero"),
        ("-13:00 clock", "PET zero 13 h before the planned start"),
    ],
)
def test_far_off_is_more_than_half_a_day_before_pet_zero_or_after_the_limit(line: str, said: str | None) -> None:
    """In words, days where hours would be many."""
    (event,) = log_of(line)
    assert far_off(PLAN, PET_ZERO, event) == said


@pytest.mark.parametrize(
    ("log", "agrees"), [("0:00 start A\n0:05 done A\n90:00 start B", True), ("90:00 start A", False), ("0:00 note x", False)]
)
def test_work_agrees_when_most_of_it_is_near(log: str, agrees: bool) -> None:
    """Without work nothing speaks for PET zero."""
    assert work_agrees(PLAN, PET_ZERO, log_of(log)) is agrees


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("90:00 start A", "does not count"), ("90:00 defer A", "counts from then on"), ("-90:00 defer A", "counts all the same"),
    ],
)  # fmt: skip
def test_what_makes_figures_of_its_time_does_not_count_then(line: str, found: str) -> None:
    """A change of the plan counts all the same; both are listed, a note is not."""
    now = parse_instant(at("1:00"))
    events = log_of(f"0:00 clock\n0:01 start B\n-90:00 note x\n{line}")
    (one,) = does_not_belong(PLAN, events, now)
    assert (one.event, counts_then(events[-1], now)) == ("e4", found)
    assert f"it {found}" in one.found
