"""Recurring checks that fall due inside joint tasks."""

from __future__ import annotations

import pytest

from tests.core.outlook.plans import SOUND, found_in


@pytest.mark.parametrize(
    ("every", "lanes", "found"), [(125, '"EV1"', ["HOME at PET 2:05"]), (120, '"EV1"', []), (25, '"EV2"', ["HOME at PET 2:05"])]
)
def test_a_check_inside_joint_work(every: int, lanes: str, found: list[str]):
    """The joint task goes from PET 2:00 to PET 2:10 at plan pace; its ends do not count."""
    text = SOUND + f'[[check]]\nid = "gloves"\nevery = {every}\nlanes = [{lanes}]\n'
    problems = [one.problem for one in found_in(text, "check-in-joint-task")]
    assert [problem.found for problem in problems] == [f"it falls due inside {name}" for name in found]
