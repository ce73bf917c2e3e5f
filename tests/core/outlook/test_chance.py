"""A brief that is not likely enough in time is said to be so, with what drives it."""

from __future__ import annotations

import pytest

from dashboard.core.base.wording import chance_text
from dashboard.core.outlook.chance import check_chance, shortfalls
from dashboard.core.state.follow import follow
from tests.core.outlook.plans import SOUND, briefed

TIGHT = SOUND.replace('limit = "7:00"', 'limit = "2:46"')
HOPELESS = SOUND.replace('limit = "7:00"', 'limit = "2:32"')


CONTENT_WITH_LITTLE = HOPELESS.replace("reserve = 30\n", "reserve = 30\nconfidence = 0.1\n", 1)


@pytest.mark.parametrize(
    ("text", "grade"), [(SOUND, None), (TIGHT, "caution"), (HOPELESS, "error"), (CONTENT_WITH_LITTLE, "error")]
)
def test_a_brief_is_graded_by_its_chance(text: str, grade: str | None):
    """A caution below the wanted confidence, an error when it is more likely late than in time, whatever confidence is wanted."""
    found = [one.problem for one in check_chance(briefed(text))]
    assert [one.severity for one in found] == ([] if grade is None else [grade])


def test_the_chance_is_that_of_the_state_at_pet_zero():
    """No second figure: what `check` says is what the board will show."""
    one = briefed(TIGHT)
    state = follow(one.plan, [], one.plan.sortie.start, draws=one.draws)
    assert one.chance == state.end.in_by_limit is not None
    (problem,) = (finding.problem for finding in check_chance(one))
    assert problem.found.startswith(chance_text(one.chance)) and "90 %" in problem.expected


def test_it_says_what_fails():
    """The limit here; a suit in the next plan."""
    assert [one.partition(" past ")[2] for one in shortfalls(briefed(HOPELESS))] == ["the limit less reserve"]
    short = shortfalls(briefed(SOUND.replace("loaded = 9.0", "loaded = 1.8", 1)))
    assert [one.partition(" past ")[2] for one in short] == ["what the water of suit A lasts"]


def test_it_names_the_window_that_is_likely_missed():
    """T2 fits its window only when both are much quicker than briefed."""
    windows = '[[window]]\nkind = "daylight"\nfrom = 0\nto = 105\n[[window]]\nkind = "daylight"\nfrom = 260\nto = 360\n'
    text = HOPELESS.replace('"2:32"', '"5:00"').replace(
        'id = "T2"', 'id = "T2"\nneeds = ["daylight"]\ntitle = "Survey"'
    )
    (problem,) = (finding.problem for finding in check_chance(briefed(text + windows)))
    assert "T2 Survey likely misses daylight" in problem.consequence
