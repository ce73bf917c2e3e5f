"""Lengths that are far from recorded runs, or briefed without a range."""

from __future__ import annotations

import pytest

from dashboard.core.outlook.learned_length import LearnedLength
from tests.core.outlook.plans import SOUND, found_in
from tests.problems import assert_problem


@pytest.mark.parametrize(
    ("learned", "code", "grade"),
    [
        (LearnedLength(62, 50, 75, 4, 4), None, None),
        (LearnedLength(68, 64, 72, 9, 9), None, None),
        (LearnedLength(90, 80, 101, 6, 3), "longer-in-runs", "caution"),
        (LearnedLength(40, 35, 46, 6, 3), "shorter-in-runs", "note"),
        (LearnedLength(90, 55, 150, 1, 1), None, None),
    ],
    ids=["near", "near enough", "longer", "shorter", "not known well enough"],
)
def test_a_length_far_from_what_the_runs_say(learned: LearnedLength, code: str | None, grade: str | None):
    """T1 is briefed with 1 h; the belief must leave that length out, and be far from it."""
    found = [one.problem for one in found_in(learned={"T1": learned})]
    assert [(problem.code, problem.severity) for problem in found] == ([] if code is None else [(code, grade)])


def test_it_says_what_was_learned_from_how_much():
    """Median and range, tasks and runs."""
    (found,) = found_in(learned={"T1": LearnedLength(90, 80, 101, 6, 3)})
    assert_problem(found.problem, subject="T1", expected="1 h 30 min (1 h 20 min to 1 h 41 min)",
                   found="1 h; learned from 6 finished tasks in 3 runs", cure="tetherline learn", severity="caution")
    assert found.place == ("task", 0, "duration")


@pytest.mark.parametrize(("single", "notes"), [(["[50, 60, 80]"], 0), (["[50, 60, 80]", "[15, 20, 30]"], 1)])
def test_a_brief_without_ranges_is_noted(single: list[str], notes: int):
    """When most tasks have a single value."""
    text = SOUND
    for three in single:
        text = text.replace(three, "30")
    assert len(found_in(text, "no-ranges")) == notes


def test_a_plan_without_a_reserve_is_noted():
    """Of time; the suits have reserves of their own."""
    assert [one.problem.severity for one in found_in(SOUND.replace("reserve = 30\n", ""), "no-reserve")] == ["note"]
