"""Which suit runs short, of what, and when, at the workload of the brief."""

from __future__ import annotations

import pytest

from dashboard.core.base.minutes import clock
from tests.core.outlook.plans import SOUND, found_in, the_finding
from tests.problems import assert_problem


def loaded(kg: float, suit: int = 1) -> str:
    """The sound plan, with so much water in the suits up to this one."""
    return SOUND.replace("loaded = 9.0", f"loaded = {kg}", suit)


def test_a_suit_that_runs_short_is_an_error_with_its_consumable_and_time():
    """0.5 kg/h from 1.4 kg to a reserve of 0.4 kg: two hours; the end is half an hour later or more."""
    problem = the_finding(loaded(1.4), "suit-short").problem
    assert_problem(problem, subject="suit A (EV1), water", expected="the expected end", found="PET 2:00", cure="Load more")
    assert "at the briefed workload" in problem.found


def test_the_workload_counts():
    """The same water lasts longer when the work is light than when it is heavy."""
    thirsty = SOUND.replace("per_watt = 0", "per_watt = 0.002").replace("loaded = 9.0", "loaded = 2.2")
    heavy = thirsty.replace('workload = "light"', 'workload = "heavy"')
    assert {one.problem.code for one in found_in(heavy)} > {"suit-short"}
    assert the_times(heavy) < the_times(thirsty)


def the_times(text: str) -> list[str]:
    return [one.problem.found for one in found_in(text, "suit-short")] or ["reserve never reached"]


def test_a_suit_that_lasts_to_the_expected_end_only_is_a_caution():
    """It is reached before a late end."""
    problem = the_finding(loaded(0.4 + 0.5 * 133 / 60), "suit-tight").problem
    assert_problem(problem, subject="suit A (EV1), water", expected="late end", found=f"PET {clock(133)}", cure="",
                   severity="caution")


@pytest.mark.parametrize(("battery", "notes"), [("", []), ("[suit.battery]\nloaded = 500\n", ["suit B"])])
def test_a_rate_that_is_only_assumed_is_a_note(battery: str, notes: list[str]):
    """The battery has no published rate; it limits nothing."""
    text = SOUND.replace("[[task]]", battery + "[[task]]", 1)
    assert [one.problem.subject for one in found_in(text, "suit-assumed")] == notes


def test_a_task_without_a_workload_is_a_note():
    """It is taken as moderate work; the note names the first and counts them."""
    problem = the_finding(SOUND.replace('workload = "light"\n', "", 2), "workload-assumed").problem
    assert problem.severity == "note" and "none for 2 of them, the first T1" in problem.found
