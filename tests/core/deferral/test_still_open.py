"""Whether a change can still be made: one rule, for a record and for a state."""

from __future__ import annotations

from datetime import timedelta

import pytest

from dashboard.core.deferral.still_open import is_open_in
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from tests.core.sorties import PLAN
from tests.scenario import PET_ZERO, log_of


def open_at(change: Change, log: str, minutes: float) -> bool:
    return is_open_in(reconcile(PLAN, log_of(log), PET_ZERO + timedelta(minutes=minutes)), change)


@pytest.mark.parametrize(
    ("change", "until"),
    [
        (Change(defer=("A",)), "0:05 start A"),
        (Change(defer=("A",)), "0:05 defer A"),
        (Change(move={"E": "EV1"}), "0:05 start E"),
        (Change(order=("A", "B")), "0:05 start A"),
        (Change(choose={"ending": "long"}), "0:05 choose ending option=short"),
    ],
)
def test_a_change_is_open_until_the_log_says_otherwise(change: Change, until: str) -> None:
    """Begun, deferred or decided, it can no longer be made."""
    assert open_at(change, "0:00 clock", 10)
    assert not open_at(change, f"0:00 clock\n{until}", 10)


def test_work_can_be_trimmed_until_it_has_worked_for_its_new_length() -> None:
    """Twelve minutes in work can still become fifteen, and no longer ten."""
    log = "0:00 clock\n0:00 start A"
    assert open_at(Change(trim={"A": 15}), log, 12) and not open_at(Change(trim={"A": 10}), log, 12)
    assert open_at(Change(extend={"A": 40}), log, 12)
    assert not open_at(Change(extend={"A": 40}), f"{log}\n0:11 done A", 12)


def test_only_work_in_hand_can_be_broken_off() -> None:
    """Not before it begins, and not after it is over."""
    change = Change(break_off=("A",))
    assert not open_at(change, "0:00 clock", 10)
    assert open_at(change, "0:00 clock\n0:05 start A", 10)
    assert not open_at(change, "0:00 clock\n0:05 start A\n0:08 done A", 10)


def test_a_change_of_a_task_that_is_not_there_is_not_open() -> None:
    """A name that the plan does not have."""
    assert not open_at(Change(defer=("nowhere",)), "0:00 clock", 10)
