"""Findings: values that cannot be changed and that carry their instant as text."""


import json
from datetime import datetime, timedelta, timezone

import pytest
from pydantic import ValidationError

from dashboard.core.base.findings import Discrepancy, Unread, one_per_event

CEST = timezone(timedelta(hours=2))


def test_a_finding_does_not_change():
    """Nobody who is handed one can alter it for the others."""
    found = Unread(line="{", why="expected JSON")
    with pytest.raises(ValidationError):
        found.why = "something else"


def test_a_finding_has_no_other_fields():
    """A misspelt field is refused and does not get lost."""
    with pytest.raises(ValidationError):
        Unread(line="{", why="expected JSON", place="line 3")


def test_its_instant_is_written_in_utc():
    """Whatever zone it came in, JSON has RFC 3339 with `Z`."""
    found = Discrepancy(
        event="e1", expected="a", found="b", at=datetime(2031, 4, 12, 11, 10, tzinfo=CEST), pet_min=0.0
    )
    assert json.loads(found.model_dump_json())["at"] == "2031-04-12T09:10:00Z"
    assert json.loads(Discrepancy(event="e1", expected="a", found="b").model_dump_json())["at"] is None


def test_findings_of_one_event_are_joined_and_the_first_five_are_said():
    """Others stay as they are, in the order of the first of each; what is said twice is said once."""
    many = [Discrepancy(event="e1", expected=f"x{n}", found=f"y{n}") for n in (1, 1, 2, 3, 4, 5, 6, 7)]
    alone = Discrepancy(event="e2", expected="a", found="b", pet_min=3.0)
    joined, other = one_per_event([many[0], alone, *many[1:]])
    assert joined.expected == "x1; x2; x3; x4; x5; and 2 more"
    assert joined.found == "y1; y2; y3; y4; y5; and 2 more"
    assert other is alone
