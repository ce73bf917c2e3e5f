"""The figures of any set of changes, and the rules that it breaks."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.figures import figures_of
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project
from tests.scenario import at, log_of, plan_of, task

TABLES = (
    task("A", "EV1", 0, 40) + task("B", "EV1", 40, 30, can_move_to=["EV2"]) + task("J", "EV1 EV2", 70, 10, can_move_to=["ARM"])
    + task("LONG", "EV1", 80, 60, priority=1, shortest=30) + task("SHORT", "EV1", None, 20) + task("TIDY", "EV1", None, 5)
    + task("HOME", "EV1 EV2", 140, 10, required=True)
    + '[[alternative]]\nid = "ending"\ndefault = "long"\n[alternative.options]\n'
    + 'long = ["LONG"]\nshort = ["SHORT", "TIDY"]\n'
)


def figured(change, log="0:00 clock", pet="0:00"):
    record = reconcile(plan_of(TABLES), log_of(log), parse_instant(at(pet)))
    return figures_of(record, project(record), change, confidence=0.9, draws=0)


def test_a_hand_over_and_an_option_together_cost_nothing_and_end_earlier():
    """B goes to EV2 beside A, and 25 min are taken in place of 60: in at 1:25."""
    made = figured(Change(move={"B": "EV2"}, choose={"ending": "short"}))
    assert (made.end_pet_min, made.value_lost, made.broken_rules) == (85, {}, [])
    assert made.decide_by_pet_min == 40


@pytest.mark.parametrize("more", [{"defer": ("LONG",)}, {"trim": {"LONG": 30.0}}])
def test_what_an_option_leaves_out_is_not_given_up_as_well(more):
    """LONG is out with the other ending: ticked beside it, it neither costs nor counts."""
    made = figured(Change(choose={"ending": "short"}, **more))
    assert made.change == Change(choose={"ending": "short"})
    assert made.value_lost == {}


@pytest.mark.parametrize(
    ("change", "log", "rule"),
    [
        (Change(move={"A": "EV2"}), "0:00 clock", "A may not go to EV2"),
        (Change(move={"B": "EV2"}), "0:00 clock\n0:00 start B", "B is in work, not to be handed over"),
        (Change(move={"J": "ARM"}), "0:00 clock", "J takes EV1 and EV2 at once, not to be handed over"),
        (Change(defer=("TIDY",), choose={"ending": "short"}), "0:00 clock",
         "TIDY of option 'short', which is taken for 'ending', would not be done"),
        (Change(choose={"ending": "short"}), "0:00 clock\n0:00 start LONG",
         "LONG is in work: option 'short' of 'ending' can no longer be taken in its place"),
    ],
)  # fmt: skip
def test_what_is_not_allowed_is_said(change, log, rule):
    """In words, with the task and its state."""
    assert rule in [broken.words for broken in figured(change, log, "0:05").broken_rules]
