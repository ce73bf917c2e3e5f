"""What of a plan is briefed."""

from __future__ import annotations

from dashboard.core.plan.briefed import briefed_tasks, options_not_default
from tests.core.sorties import PLAN


def test_get_aheads_and_options_that_are_not_the_default_are_not_briefed():
    """A joint task counts in each of its lanes; a task of two options is briefed if one of them is the default."""
    assert [task.id for task in briefed_tasks(PLAN, "EV1")] == ["A", "B", "C", "J", "P"]
    assert [task.id for task in briefed_tasks(PLAN, "EV2")] == ["J", "D", "E"]
    assert options_not_default(PLAN) == {"Q"}
    both = PLAN.model_copy(update={"alternatives": (PLAN.alternatives[0].model_copy(
        update={"options": {"short": ("P", "Q"), "long": ("Q",)}}),)})
    assert options_not_default(both) == set()
