"""The revision of a plan."""

from __future__ import annotations

from dashboard.core.brief.revision import revision_of
from tests.core.brief.made import PLAN, changed


def test_the_revision_follows_the_content_and_not_the_spelling():
    """Another value gives another revision; a comment, or the same time spelled otherwise, does not."""
    assert revision_of(changed(('limit = "3:00"', "limit = 180  # three hours"))) == revision_of(PLAN)
    assert revision_of(changed(('limit = "3:00"', "limit = 181"))) != revision_of(PLAN)
    assert revision_of(changed(("Wrench in the left hand", "Wrench in the right hand"))) != revision_of(PLAN)
