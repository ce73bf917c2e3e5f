"""The time to get from one worksite to the next, by leg or route."""

from __future__ import annotations

import pytest

from tests.core.outlook.plans import SOUND, found_in
from tests.scenario import task

BOOM = '[[worksite]]\nid = "boom"\nreturn = 5\n'
ROUTE = '[[route]]\nfrom = "boom"\nto = "mast"\nduration = [4, 6, 9]\n'
OUT = task("OUT", "EV1", 125, 12, leg="boom")
BACK = task("BACK", "EV1", 190, 10, leg="airlock")
AT_BOOM = task("T4", "EV1", 137, 10, worksite="boom")


def at_mast(start: float) -> str:
    """Work at the mast from this PET on; the work at the boom is over at PET 2:27."""
    return task("T5", "EV1", start, 10, worksite="mast")


@pytest.mark.parametrize(
    ("more", "codes"),
    [
        (AT_BOOM, []),
        (AT_BOOM + ROUTE + at_mast(153), []),
        (AT_BOOM + ROUTE + at_mast(150), ["way-too-short"]),
        (AT_BOOM + at_mast(153), ["no-way"]),
        (AT_BOOM + ROUTE + task("LEG", "EV1", 147, 6, leg="mast") + at_mast(153), []),
        (AT_BOOM + ROUTE + task("LEG", "EV1", 147, 2, leg="mast") + at_mast(153), ["leg-too-short"]),
    ],
    ids=["at the end of its leg", "time for the route", "too little time", "no way at all", "a leg", "a leg below its route"],
)
def test_each_lane_gets_to_its_work(more: str, codes: list[str]):
    """By a leg, or by a route with the time for it."""
    found = [one.problem for one in found_in(SOUND + BOOM + OUT + BACK + more)]
    ways = [problem for problem in found if problem.code in ("way-too-short", "no-way", "leg-too-short", "ways-not-given")]
    assert [(problem.code, problem.severity) for problem in ways] == [(code, "caution") for code in codes]
    assert all("boom" in problem.expected and "mast" in problem.expected for problem in ways)


def test_a_plan_without_legs_is_told_that_its_ways_cannot_be_checked():
    """One note, whatever the number of worksites; none where all is at one place."""
    away = SOUND.replace('id = "T2"', 'id = "T2"\nworksite = "mast"')
    assert [one.problem.severity for one in found_in(away, "ways-not-given")] == ["note"]
    assert found_in(SOUND, "ways-not-given") == []
