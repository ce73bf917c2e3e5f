"""The facts of a debrief as values."""

import pytest
from pydantic import ValidationError

from dashboard.core.base.caution import CAUTION
from dashboard.core.debrief.facts import Segment
from tests.core.debrief.made import PLAN, made


def test_a_segment_knows_its_length():
    """From its two ends, in PET minutes."""
    assert Segment(kind="work", task="A", from_pet_min=12.5, to_pet_min=40).minutes == 27.5


def test_a_kind_of_segment_that_there_is_not_is_refused():
    """Screens and tables have a form for each kind, and for no other."""
    with pytest.raises(ValidationError):
        Segment(kind="nap", from_pet_min=0, to_pet_min=1)


def test_the_caution_stands_above_every_debrief():
    """A rehearsal is named before it."""
    facts = made(PLAN, "0:00 clock\n0:00 start T010", "0:10")
    assert facts.said_above == facts.caution == CAUTION
    rehearsed = facts.model_copy(update={"rehearsal": "Rehearsal of pool run 3"})
    assert rehearsed.said_above == f"Rehearsal of pool run 3. {CAUTION}"


def test_a_debrief_that_is_written_is_read_back():
    """In JSON, with nothing lost."""
    facts = made(PLAN, "0:00 clock\n0:00 start T010\n0:20 defer T040\n0:31 done T010", "0:40")
    assert type(facts).model_validate_json(facts.model_dump_json()) == facts
