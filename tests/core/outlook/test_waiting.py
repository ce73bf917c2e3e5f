"""A crew member who waits long for the others is noted."""

from __future__ import annotations

import pytest

from tests.core.outlook.plans import SOUND, found_in


@pytest.mark.parametrize(("minutes", "waits"), [("70", []), ("40", ["EV2"])])
def test_a_long_wait_before_a_joint_task(minutes: str, waits: list[str]):
    """EV1 works until PET 2:00; EV2 is done with T32, which begins at PET 0:40."""
    problems = [one.problem for one in found_in(SOUND.replace("[60, 70, 90]", minutes), "long-wait")]
    assert [problem.expected.split()[0] for problem in problems] == waits
    assert all(problem.severity == "note" and "40 min from PET 1:20" in problem.found for problem in problems)
