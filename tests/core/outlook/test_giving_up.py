"""What can be given up in time, and what it costs to stop."""

from __future__ import annotations

import pytest

from dashboard.core.outlook.giving_up import knows_better_pet_min
from tests.core.outlook.plans import HEAD, HOME, SOUND, SUITS, briefed, found_in, the_finding
from tests.problems import assert_problem
from tests.scenario import task

LATE_LOW = task("L", "EV2", 150, 20, priority=3)
EARLY_LOW = SOUND.replace('id = "T3"', 'id = "T3"\npriority = 3')


def classes(text: str) -> list[str]:
    return [one.problem.code for one in found_in(text) if one.problem.code.startswith("class-")]


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        (SOUND + LATE_LOW, []),
        (EARLY_LOW, ["class-too-early"]),
        (SOUND + LATE_LOW.replace("priority", "required = true\npriority") + task("T9", "EV2", 180, 10), ["class-locked"]),
        (SOUND + LATE_LOW + task("T9", "EV2", 180, 10, after=["L"]), ["class-locked"]),
        (SOUND + LATE_LOW.replace("priority", "shortest = 10\npriority") + task("T9", "EV2", 180, 10, after=["L"]), []),
    ],
    ids=["late work", "early work", "required", "higher work comes after it", "may be trimmed"],
)
def test_a_class_that_cannot_be_given_up_in_time(text: str, codes: list[str]):
    """The room knows better than the brief when three tasks of the crew are finished, at PET 1:00."""
    assert classes(text) == codes


def test_a_plan_of_required_tasks_alone_is_told_so():
    """All of it counts as the way home then, so no class is left to look at; the finding names the reason and the cure."""
    text = HEAD + SUITS + task("T1", "EV1 EV2", 0, [50, 60, 80], required=True) + HOME
    problem = the_finding(text, "class-locked").problem
    assert_problem(problem, subject="the plan", expected="given up", found="none: its tasks (2, of them 2 required)",
                   cure="'required'", severity="caution")


def test_it_names_the_last_task_that_could_go_and_the_time():
    """T3 begins at PET 0:00."""
    problem = the_finding(EARLY_LOW, "class-too-early").problem
    assert knows_better_pet_min(briefed()) == 60.0
    assert_problem(problem, subject="priority 3", expected="PET 1:00", found="T3, begins at PET 0:00", cure="later",
                   severity="caution")


@pytest.mark.parametrize(("minutes", "found"), [(59, False), (60, True)])
def test_a_close_out_as_long_as_its_task(minutes: int, found: bool):
    """Breaking it off would gain nothing."""
    text = SOUND.replace("closeout = 5", f"closeout = {minutes}", 1)
    assert [one.problem.subject for one in found_in(text, "close-out-too-long")] == ["T1, key 'closeout'"] * found


def test_long_work_that_cannot_be_stopped_is_noted_once():
    """The longest is named, and all are counted."""
    problem = the_finding(SOUND.replace("closeout = 5\n", "", 2), "cannot-be-stopped").problem
    assert problem.severity == "note" and problem.subject == "T1" and "neither for 2 of them" in problem.found
