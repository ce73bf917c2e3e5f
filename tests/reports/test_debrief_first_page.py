"""The first page of a debrief, in words."""

from __future__ import annotations

import io
import re
from datetime import UTC, datetime

import pypdf

from dashboard.reports.debrief_document import debrief_document
from dashboard.reports.debrief_first_page import against_limit, came_of, first_page
from dashboard.reports.document import Heading
from dashboard.reports.pdf import pdf
from tests.reports import facts as made

ENDED = made.ended()


def said(facts) -> list[str]:
    return [part.text for part in first_page(facts)]


def test_it_says_end_decisions_contingencies_suits_carry_over_and_causes():
    """In this order, with words where there is nothing."""
    headings = [part.text for part in first_page(ENDED) if isinstance(part, Heading)]
    assert headings == [
        "Decisions, and what came of them", "Contingencies", "Suits at the end", "Carried over", "Largest causes of lost minutes",
    ]  # fmt: skip
    page = " ".join(said(ENDED))
    assert "None was inserted." in page and "T020 Carry the pump (broken off" in page and "Suit A: water" in page


def test_the_end_stands_against_the_limit():
    """Before, after and at it; projected as long as the sortie goes on."""
    assert re.fullmatch(r"Inside at PET 1:44: .* before the limit PET \d:\d\d \(.*\)\.", against_limit(ENDED))
    at_limit = ENDED.model_copy(update={"end": ENDED.end.model_copy(update={"pet_min": ENDED.limit.pet_min})})
    assert ": at the limit" in against_limit(at_limit)
    late = ENDED.model_copy(update={"end": ENDED.end.model_copy(update={"pet_min": ENDED.limit.pet_min + 12})})
    assert "12 min after the limit" in against_limit(late)
    assert against_limit(made.so_far()).startswith("Projected inside at plan pace by PET")


def test_a_decision_says_what_it_moved():
    """Against the projection without it. The end itself stands at the top, once."""
    one = next(decision for decision in ENDED.decisions if decision.kind == "defer")
    moved = one.model_copy(update={"end_pet_min": 120.0, "end_after_pet_min": 100.0})
    assert came_of(moved).endswith("Projected end at plan pace PET 1:40: 20 min earlier than without it.")
    same = one.model_copy(update={"end_pet_min": 120.0, "end_after_pet_min": 120.0})
    assert "PET 2:00: as without it." in came_of(same)


def test_what_a_decision_changes_is_never_cut():
    """Its words are."""
    changes = "(defer T390 Clamps; defer T400 Photos (all))"
    text = f"decided: {'Both are late. ' * 20}{changes}. On the readings of PET 4:02."
    said = came_of(ENDED.decisions[0].model_copy(update={"text": text}))
    assert f"Both are late. Both are ... {changes}. Projected" in said and len(said) < 300


def test_setting_and_a_log_typed_afterwards_are_said_first():
    """By name; and nothing of either where they are not known."""
    found = said(ENDED.model_copy(update={"setting": "pool", "typed_afterwards": True}))
    assert found[0] == "Setting of the run: pool." and found[1].startswith("The log was typed after the sortie.")
    assert said(ENDED)[0] == against_limit(ENDED)


def test_it_stays_one_page_however_much_was_decided_and_left():
    """Thirty long decisions and thirty tasks left over: the causes, at its end, stand on the first sheet of the paper."""
    decision = ENDED.decisions[0].model_copy(update={"text": "Carry on as briefed. " * 40})
    full = ENDED.model_copy(update={"decisions": [decision] * 30, "carry_over": [ENDED.carry_over[0]] * 30})
    page = said(full)
    assert "And 23 more, under 'Decisions'." in page and "and 23 more, under 'Carry-over'." in " ".join(page)
    paper = pypdf.PdfReader(io.BytesIO(pdf(debrief_document(full, datetime(2031, 4, 13, tzinfo=UTC), "0"))))
    first = paper.pages[0].extract_text()
    assert "Largest causes of lost minutes" in first and page[-1].split(":")[0] in first
