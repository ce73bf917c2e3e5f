"""The way back at every hour of the brief."""

from __future__ import annotations

import pytest

from dashboard.core.outlook.way_back import at_every_hour
from tests.core.outlook.plans import HEAD, SOUND, SUITS, briefed, found_in, the_finding, work
from tests.problems import assert_problem
from tests.scenario import task

FAR = SOUND.replace('id = "mast"\nreturn = 10', 'id = "mast"\nreturn = 40').replace('id = "T2"', 'id = "T2"\nworksite = "mast"')
LIMITED = FAR.replace('limit = "7:00"', 'limit = "3:05"')


def test_every_hour_says_where_each_one_is_and_what_is_spare():
    """EV1 is at the mast from PET 1:00 on, 40 min from the airlock; EV2 has no worksite. HOME is the way back itself."""
    told = at_every_hour(briefed(FAR))
    assert [one.pet_min for one in told] == [0.0, 60.0, 120.0]
    assert [one.places["EV1"].worksite for one in told] == [None, "mast", "mast"]
    assert told[1].spare_min - told[2].spare_min == pytest.approx(60.0)
    assert told[2].spare_min == pytest.approx(390 - 120 - 40) and told[2].by.startswith("the planned limit")


@pytest.mark.parametrize(("rule", "grade"), [("", None), ("2:05", None), ("1:58", "error")])
def test_work_that_ends_after_the_leave_by_time(rule: str, grade: str | None):
    """T2 ends at PET 2:00 at plan pace."""
    text = FAR.replace("return = 40", f'return = 40\nleave_by = "{rule}"') if rule else FAR
    found = [one.problem for one in found_in(text, "leave-by")]
    assert [problem.severity for problem in found] == ([] if grade is None else [grade])
    for problem in found:
        assert_problem(problem, subject="worksite mast", expected="PET 1:58, set by the plan", found="T2", cure="mast")


def test_an_hour_from_which_it_is_too_late_to_turn_back():
    """PET 2:00 at the mast: the way back of 40 min ends past the limit less reserve, and the brief stays until PET 2:10."""
    problem = the_finding(LIMITED.replace("HOME", "IN").replace("[50, 60, 80]", "[60, 65, 90]"), "turn-back").problem
    assert_problem(problem, subject="way back", expected="PET 2:10", found="too late at PET 2:00", cure="", severity="caution")
    assert found_in(FAR, "turn-back") == []


def test_a_suit_too_small_for_the_required_work_is_too_late_at_once():
    """The water does not even last for the required work and the way home."""
    text = SOUND.replace("loaded = 9.0", "loaded = 0.45")
    problem = the_finding(text, "turn-back").problem
    assert problem.severity == "error" and "too late even at PET zero" in problem.found and "water" in problem.found


@pytest.mark.parametrize(("home", "lanes"), [("EV1 EV2", None), ("EV1", "lane EV2"), (None, "lanes EV1 and EV2")])
def test_a_lane_without_a_way_home_is_found(home: str | None, lanes: str | None):
    """Required tasks at its end, or work at the airlock."""
    text = HEAD + SUITS + work() + (task("HOME", home, 200, 10, required=True) if home else "")
    assert [one.problem.subject for one in found_in(text, "no-way-home")] == ([] if lanes is None else [lanes])
