"""A contingency that would not fit."""

from __future__ import annotations

import pytest

from dashboard.core.outlook.contingencies import moments_tried
from tests.core.outlook.plans import SOUND, briefed, found_in
from tests.problems import assert_problem


def leak(minutes: float) -> str:
    step = f'[[contingency.task]]\nid = "C1"\nlanes = ["EV1", "EV2"]\nduration = {minutes}\n'
    return f'[[contingency]]\nid = "leak"\nhold = ["T1"]\n{step}'


@pytest.mark.parametrize(
    ("minutes", "code", "grade"),
    [(250, None, None), (270, "contingency-needs-a-cut", "caution"), (400, "contingency-never-fits", "error")],
)
def test_a_contingency_is_tried_at_every_hour(minutes: float, code: str | None, grade: str | None):
    """The sortie ends at PET 2:10 at plan pace; 4 h 20 min are left to the limit less reserve."""
    found = [one.problem for one in found_in(SOUND + leak(minutes)) if one.problem.code.startswith("contingency-")]
    assert [(problem.code, problem.severity) for problem in found] == ([] if code is None else [(code, grade)])


def test_it_says_how_much_is_missing():
    """At best, over the hours that were tried; water lasts longer than the limit here."""
    (problem,) = (one.problem for one in found_in(SOUND + leak(270), "contingency-needs-a-cut"))
    assert_problem(problem, subject="contingency leak", expected="at plan pace", found="at best 10 min short", cure="bear",
                   severity="caution")
    assert "none of the 3 that were tried" in problem.found


def test_a_plan_of_many_tasks_is_tried_at_some_of_its_hours(monkeypatch: pytest.MonkeyPatch):
    """First and last among them."""
    monkeypatch.setattr("dashboard.core.outlook.contingencies.MANY_TASKS", 3)
    monkeypatch.setattr("dashboard.core.outlook.contingencies.MOST_MOMENTS", 2)
    assert moments_tried(briefed()) == [0.0, 120.0]
