"""Ordinary work that no figure counts is found."""

from __future__ import annotations

from tests.core.outlook.plans import SOUND, found_in, the_finding
from tests.problems import assert_problem
from tests.scenario import task


def test_work_behind_a_get_ahead_is_an_error():
    """Also at second hand: T5 comes after T4, and T4 after the get-ahead."""
    more = task("G", "EV2", None, 20, get_ahead=True) + task("T4", "EV2", 60, 20, after=["G"])
    second = task("T5", "EV2", 80, 20, after=["T4"], title="Stow")
    problems = [one.problem for one in found_in(SOUND + more + second, "out-of-plan")]
    assert [problem.subject for problem in problems] == ["T4", "T5 Stow"]
    assert_problem(
        problems[1], subject="T5", expected="plan of record", found="after G, done only with time in hand", cure="get-ahead"
    )


def test_a_get_ahead_behind_a_get_ahead_is_none():
    """And neither is work of an option that is not taken."""
    more = task("G", "EV2", None, 20, get_ahead=True) + task("G2", "EV2", None, 20, get_ahead=True, after=["G"])
    assert found_in(SOUND + more, "out-of-plan") == []


def test_work_behind_a_leg_that_is_a_get_ahead_is_found():
    """No other leg takes EV1 to the mast: the way is in no figure."""
    more = (
        task("OUT", "EV1", None, 12, get_ahead=True, leg="mast") + task("T4", "EV1", 125, 20, worksite="mast", title="Survey")
        + task("BACK", "EV1", 150, 12, leg="airlock")
    )
    problem = the_finding(SOUND + more, "no-way").problem
    assert_problem(problem, subject="T4 Survey", expected="takes EV1 from airlock to mast", found="none but OUT, a get-ahead",
                   cure="an ordinary task")
