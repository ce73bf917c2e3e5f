"""What a plan can bear, as a document."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from dashboard.core.outlook.bear import what_it_bears
from dashboard.core.outlook.bear_model import Bears, Cut
from dashboard.reports.bear_document import NOT_CHEAPEST, bear_document, bear_parts, summary
from dashboard.reports.document import Heading, Paragraph, Picture, Table
from tests.core.outlook.plans import SOUND, briefed

MADE = datetime(2031, 4, 1, 12, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def bears() -> Bears:
    return what_it_bears(briefed(SOUND.replace('limit = "7:00"', 'limit = "2:46"')))


def test_it_answers_every_question(bears: Bears):
    """Late starts, lost time, the worst delay, turn-back, what certainty costs; a picture first, and the caution."""
    document = bear_document(bears, MADE, "1")
    headings = [part.text for part in document.parts if isinstance(part, Heading)]
    assert headings == [
        "How late each task may start", "What lost time costs", "The delays that hurt most", "Turn back", "What certainty costs",
    ]
    assert isinstance(document.parts[0], Picture) and "not certified" in document.caution.lower()
    tables = [part for part in document.parts if isinstance(part, Table)]
    assert len(tables) == len(headings) and len(tables[0].rows) == len(bears.tasks)


def test_the_summary_says_the_three_answers_that_matter(bears: Bears):
    """The chance, the least slack, the delay that hurts most."""
    said = summary(bears)
    assert said.startswith("As briefed ") and "Least slack: " in said and "The delay that hurts most: 30 min before " in said


def test_a_cut_that_is_not_proven_is_said_to_be_so(bears: Bears):
    """And is not, where nothing goes."""
    cut = Cut(reached=True, goes=["L Look around"], value_lost={3: 1.0}, in_by_limit=0.93)
    with_cut = bears.model_copy(update={"lost": [bears.lost[0].model_copy(update={"cut": cut})], "ladder": []})
    texts = [part.text for part in bear_parts(with_cut) if isinstance(part, Paragraph)]
    assert NOT_CHEAPEST in texts
    same = with_cut.lost[0].model_copy(update={"cut": cut.model_copy(update={"proven": True})})
    proven = with_cut.model_copy(update={"lost": [same]})
    assert NOT_CHEAPEST not in [part.text for part in bear_parts(proven) if isinstance(part, Paragraph)]
    (row,) = next(part for part in bear_parts(with_cut) if isinstance(part, Table) and part.columns[1].head == "Lost").rows
    assert row[-1] == "L Look around (costs 1 of priority 3)"
