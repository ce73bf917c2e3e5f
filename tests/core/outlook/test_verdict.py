"""The answer of a check."""

from __future__ import annotations

import pytest

from dashboard.core.outlook.findings import forecast_findings
from dashboard.core.outlook.verdict import verdict_of
from tests.core.outlook.plans import HEAD, HOME, SOUND, SUITS, briefed, work
from tests.scenario import task

WITHOUT_SUITS = HEAD.replace('suit = "A"\n', "").replace('suit = "B"\n', "") + work(closeout=5) + HOME


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (SOUND, "can be used: as briefed over 99 % likely in by the limit with every suit above its reserve"),
        (SOUND.replace('limit = "7:00"', 'limit = "2:32"\nconfidence = 0.05'), "is not ready to be used: as briefed "),
        (WITHOUT_SUITS, "can be used: as briefed over 99 % likely in by the limit; no suit sets a limit"),
        (HEAD + SUITS + '[[lane]]\nid = "ARM"\nkind = "arm"\n' + task("A", "ARM", 0, 10), "has no work for the crew"),
    ],
    ids=["sound", "late, and content with that", "no suit is watched", "no work for the crew"],
)
def test_what_is_said_of_the_whole_plan(text: str, said: str):
    """It can be used only when it is likely in time; it says nothing of suits that nobody watches."""
    plan = briefed(text)
    assert verdict_of(plan, [one.problem for one in forecast_findings(plan)]).startswith(said)
