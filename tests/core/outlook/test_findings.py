"""The checks that need the forecast, as a whole."""

from __future__ import annotations

from dashboard.core.plan.finding_kinds import FORECAST
from tests.core.outlook.plans import SOUND, found_in


def test_a_sound_plan_has_no_finding():
    """Every check runs, and none complains."""
    assert [one.problem.text() for one in found_in(SOUND)] == []


def test_every_finding_can_be_explained():
    """Its code stands in the table; a finding never refuses the plan, since the sortie is followed all the same."""
    for finding in found_in(SOUND.replace("loaded = 9.0", "loaded = 1.5")):
        assert finding.problem.code in FORECAST and not finding.problem.refuses and finding.problem.consequence
