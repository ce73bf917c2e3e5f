"""The forms and the words by which the kinds are entered."""

from __future__ import annotations

import re

import pytest

from dashboard.core.events.entry import About, FormField
from dashboard.core.events.kinds import KINDS
from tests.core.events.examples import EXAMPLES

FORMS = {kind: event.form for kind, event in KINDS.items() if event.form is not None}
SPOKEN = {kind: event.spoken for kind, event in KINDS.items() if event.spoken is not None}
SOURCE = re.compile(r"(many\??:)?[a-z_]+(@[a-z]+)?\??")
NEEDS: dict[About, set[str]] = {
    "task": {"task"}, "tasks": {"tasks"}, "scope": {"task", "lane", "all"}, "contingency": {"contingency"},
    "option": {"alternative", "option"}, "task and length": {"task", "duration"}, "task and lane": {"task", "lane"},
}  # fmt: skip


def test_all_but_the_answers_have_a_form() -> None:
    """What answers an event is entered from the row of that event."""
    assert set(KINDS) - set(FORMS) == {"amend", "withdraw"}


@pytest.mark.parametrize("kind", FORMS)
def test_a_form_fills_fields_of_its_kind(kind: str) -> None:
    """`subject` stands for task, lane or all; the fields of an added task are those of a task."""
    fields = set(KINDS[kind].model_fields) | ({"subject"} if "all" in KINDS[kind].model_fields else set())
    fields |= {"title", "lanes", "duration"} if kind == "add" else set()
    for field in FORMS[kind].fields:
        assert isinstance(field, FormField) and field.name in fields and SOURCE.fullmatch(field.source)


def test_the_form_for_the_plan_offers_what_changes_it() -> None:
    """And going on after a hold; a decision in words has a place of its own."""
    offered = {kind for kind, entry in FORMS.items() if entry.changes_plan}
    assert offered == {kind for kind, event in KINDS.items() if event.is_decision} - {"decision"} | {"resume"}


@pytest.mark.parametrize("kind", SPOKEN)
def test_what_a_phrase_is_about_fills_the_kind(kind: str) -> None:
    """A row of a log sheet gives every field that the kind needs."""
    required = {name for name, field in KINDS[kind].model_fields.items() if field.is_required()} - {"id", "at", "kind"}
    assert required <= NEEDS[SPOKEN[kind].about] <= set(KINDS[kind].model_fields)
    assert EXAMPLES[kind]


def test_a_verb_means_one_kind() -> None:
    """No word stands with two kinds."""
    verbs = [verb for one in SPOKEN.values() for verb in one.verbs]
    assert len(verbs) == len(set(verbs))
