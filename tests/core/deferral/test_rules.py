"""Rules that a change breaks are values with a code."""

from __future__ import annotations

from datetime import timedelta

import pytest

from dashboard.core.deferral.rules import rules_broken
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from tests.core.sorties import PLAN
from tests.scenario import PET_ZERO, log_of


@pytest.mark.parametrize(
    ("change", "log", "code", "subject"),
    [
        (Change(defer=("J",)), "", "required", "J"),
        (Change(defer=("C2",)), "0:01 insert leak", "contingency", "C2"),
        (Change(trim={"B": 10}), "", "never trimmed", "B"),
        (Change(trim={"A": 5}), "", "too short", "A"),
        (Change(extend={"B": 90}), "", "never extended", "B"),
        (Change(extend={"A": 20}), "", "not longer", "A"),
        (Change(break_off=("E",)), "0:01 start E", "never broken off", "E"),
        (Change(move={"A": "EV2"}), "", "not to be handed over", "A"),
        (Change(choose={"ending": "long"}), "0:01 start P", "option begun", "P"),
        (Change(defer=("Q",), choose={"ending": "long"}), "", "option not whole", "Q"),
    ],
)
def test_a_broken_rule_has_its_code(change: Change, log: str, code: str, subject: str) -> None:
    """And names what it is about, in words that can be shown."""
    record = reconcile(PLAN, log_of(f"0:00 clock\n{log}"), PET_ZERO + timedelta(minutes=5))
    (broken,) = [rule for rule in rules_broken(record, change) if rule.code == code]
    assert broken.subject == subject and subject in broken.words and str(broken) == broken.words


def test_an_allowed_change_breaks_no_rule() -> None:
    """Trimmed to its shortest length, let run longer, handed to a lane that can do it."""
    record = reconcile(PLAN, log_of("0:00 clock"), PET_ZERO)
    assert rules_broken(record, Change(trim={"A": 10}, move={"E": "EV1"})) == []
    assert rules_broken(record, Change(extend={"A": 45})) == []


def test_what_a_person_asks_to_give_up_of_a_contingency_may_go() -> None:
    """A rule for advice, not for a person who says so."""
    record = reconcile(PLAN, log_of("0:00 clock\n0:01 insert leak"), PET_ZERO + timedelta(minutes=5))
    assert rules_broken(record, Change(defer=("C2",)), asked=("C2",)) == []
