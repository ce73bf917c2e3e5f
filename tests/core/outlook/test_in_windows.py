"""Windows under the forecast."""

from __future__ import annotations

import pytest

from tests.core.outlook.plans import SOUND, found_in
from tests.problems import assert_problem

NEEDS = SOUND.replace('id = "T2"', 'id = "T2"\nneeds = ["link"]')


def window(begin: float, end: float) -> str:
    return f'[[window]]\nkind = "link"\nfrom = {begin}\nto = {end}\n'


@pytest.mark.parametrize(
    ("windows", "code", "grade"),
    [
        (window(0, 200), None, None),
        (window(0, 100), "window-none", "caution"),
        (window(0, 105) + window(200, 300), "window-likely-missed", "caution"),
        (window(0, 122) + window(200, 300), "window-may-be-missed", "note"),
    ],
    ids=["wide", "too short for it", "likely missed", "may be missed"],
)
def test_a_window_that_may_be_missed(windows: str, code: str | None, grade: str | None):
    """T2 is briefed from PET 1:00 to PET 2:00."""
    found = [one.problem for one in found_in(NEEDS + windows) if one.problem.code.startswith("window-")]
    assert [(problem.code, problem.severity) for problem in found] == ([] if code is None else [(code, grade)])


def test_it_says_what_the_wait_costs():
    """Until the next window opens."""
    (problem,) = (one.problem for one in found_in(NEEDS + window(0, 122) + window(200, 300), "window-may-be-missed"))
    assert_problem(problem, subject="T2", expected="until PET 2:02", found="likely to miss it", cure="earlier", severity="note")
    assert problem.consequence == "It then waits 1 h 18 min for the next one."
