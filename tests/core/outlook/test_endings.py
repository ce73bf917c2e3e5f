"""An ending that is still open and changes the answer."""

from __future__ import annotations

import pytest

from dashboard.core.outlook.endings import with_option
from tests.core.outlook.plans import SOUND, briefed, found_in
from tests.scenario import task

ENDING = '[[alternative]]\nid = "tray"\ndefault = "lash"\noptions = { lash = ["L"], bring = ["B"] }\n'


def open_ending(minutes: float, limit: str = "7:00") -> str:
    ends = task("L", "EV1", 120, 20) + task("B", "EV1", 120, minutes)
    return SOUND.replace('limit = "7:00"', f'limit = "{limit}"') + ends + ENDING


@pytest.mark.parametrize(
    ("text", "grade"),
    [(open_ending(22), None), (open_ending(45), "note"), (open_ending(45, "3:30"), "caution")],
    ids=["much the same", "later", "no longer likely enough"],
)
def test_an_ending_that_changes_the_answer(text: str, grade: str | None):
    """A note when it moves the end by much, a caution when the wanted chance is lost."""
    found = [one.problem for one in found_in(text, "ending-changes")]
    assert [problem.severity for problem in found] == ([] if grade is None else [grade])
    assert all("'bring'" in problem.found and "25 min later" in problem.found for problem in found)


def test_the_figures_are_those_of_the_choice():
    """As what-if gives them: the end at plan pace moves by what B takes longer than L."""
    one = briefed(open_ending(45))
    assert with_option(one, "tray", "bring").end_pet_min - one.projection.end_pet_min == pytest.approx(25.0)
