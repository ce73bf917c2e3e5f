"""What a plan can bear is one object that goes through JSON unchanged."""

from __future__ import annotations

from dashboard.core.base.caution import CAUTION
from dashboard.core.outlook.bear import what_it_bears
from dashboard.core.outlook.bear_model import Bears
from tests.core.outlook.plans import SOUND, briefed


def test_it_goes_through_json():
    """With the caution that stands beside all advice."""
    bears = what_it_bears(briefed(SOUND.replace('limit = "7:00"', 'limit = "2:46"')))
    assert Bears.model_validate_json(bears.model_dump_json()) == bears and bears.caution == CAUTION
