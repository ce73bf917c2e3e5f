"""The models of the plan: what a table may hold, and what is read off a whole plan."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from dashboard.core.plan.model import Consumable, Duration, Plan, Sortie, Suit, Task, Window
from tests.scenario import plan_of, task

TASK = {"id": "T010", "lanes": ["EV1"], "duration": 30}


@pytest.mark.parametrize(
    ("given", "low", "likely", "high", "exact"),
    [
        (30, 30, 30, 30, False),
        ("1:30", 90, 90, 90, False),
        ([20, 30, 50], 20, 30, 50, False),
        ([5, 5, 5], 5, 5, 5, True),
    ],
)
def test_a_duration_is_one_value_or_three(given: Any, low: float, likely: float, high: float, exact: bool):
    """Three equal values are a timed wait; one value is not."""
    assert Duration.model_validate(given) == Duration(low=low, likely=likely, high=high, exact=exact)


def test_only_one_value_above_zero_lacks_a_range():
    """A timed wait needs none, and no work has none."""
    lacking = [Duration.model_validate(given).without_range for given in (30, [20, 30, 50], [5, 5, 5], 0)]
    assert lacking == [True, False, False, False]


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ([1, 2], "three values, not 2"),
        ([3, 2, 1], "low <= likely <= high"),
        (-1, "zero or more"),
        ("25:00", "24 hours"),
        ("long", "H:MM"),
    ],
)
def test_what_is_no_duration_is_refused(given: Any, says: str):
    """With what was expected."""
    with pytest.raises(ValidationError, match=says):
        Duration.model_validate(given)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"shortest": 40}, "'shortest' at most the likely duration"),
        ({"lanes": ["EV1", "EV1"]}, "each lane once"),
        ({"workload": 2501.0}, "2500"),
        ({"workload": "frantic"}, "moderate"),
        ({"priority": 0}, "greater than or equal to 1"),
        ({"id": "two words"}, "pattern"),
        ({"color": "red"}, "Extra inputs"),
    ],
)
def test_fields_of_a_task_that_do_not_agree_are_refused(more: dict[str, Any], says: str):
    """Each by itself."""
    with pytest.raises(ValidationError, match=says):
        Task.model_validate({**TASK, **more})


def test_a_name_alone_is_a_link_without_a_lag():
    """`follows` takes names and tables."""
    links = Task.model_validate({**TASK, "follows": ["T001", {"task": "T002", "lag": "0:05"}]}).follows
    assert [(link.task, link.lag) for link in links] == [("T001", 0.0), ("T002", 5.0)]


def test_a_reserve_is_below_what_is_loaded_and_a_window_runs_forward():
    """Both are refused with the figures."""
    with pytest.raises(ValidationError, match=r"a reserve below what is loaded \(0.5\), not 0.5"):
        Consumable(loaded=0.5, reserve=0.5)
    with pytest.raises(ValidationError, match=r"'to' after 'from' \(30 min\), not 20 min"):
        Window.model_validate({"kind": "sun", "from": 30, "to": 20})


def test_a_plan_is_frozen():
    """What was briefed does not change under those who follow it."""
    plan = plan_of(task("T010", "EV1", 0, 30))
    with pytest.raises(ValidationError):
        plan.sortie.limit = 500.0


def test_the_reserve_is_taken_off_the_limit():
    """PET minutes."""
    sortie = Sortie.model_validate(
        {"id": "t", "start": "2031-04-12T09:10:00Z", "limit": "7:00", "reserve": 30}
    )
    assert sortie.limit_less_reserve_pet_min == 390


def test_a_suit_has_the_consumables_that_the_plan_gives():
    """In the order oxygen, CO2 removal, battery, water."""
    suit = Suit.model_validate({"id": "A", "water": {"loaded": 4}, "oxygen": {"loaded": 0.5}})
    assert list(suit.consumables()) == ["oxygen", "water"]


def test_lanes_and_tasks_are_listed_in_the_order_of_the_file():
    """Crew lanes are those of the kind `crew`; the tasks of contingencies come after the briefed ones."""
    leak = '[[contingency]]\nid = "leak"\n[[contingency.task]]\nid = "C010"\nlanes = ["EV1"]\nduration = 5\n'
    plan = plan_of(task("T020", "EV2", 0, 30) + task("T010", "EV1", 0, 30) + leak)
    assert plan.lane_ids() == ("EV1", "EV2", "ARM")
    assert plan.crew_lane_ids() == ("EV1", "EV2")
    assert list(plan.all_tasks()) == ["T020", "T010", "C010"]


def test_a_plan_that_is_written_is_read_back():
    """By the names of its file, in JSON."""
    plan = plan_of(
        task("T010", "EV1", 0, [20, 30, 50], follows=["T020"], workload="light") + task("T020", "EV2", 0, 5)
    )
    assert Plan.model_validate_json(plan.model_dump_json(by_alias=True)) == plan
