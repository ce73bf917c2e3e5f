"""What the entry form is told of each kind of event."""

from __future__ import annotations

import json

import pytest

from dashboard.core.events.entry import Form, FormField
from dashboard.screens import entry, offers
from dashboard.screens.log import ENTRY
from tests.scenario import follow_at
from tests.screens.pieces import suited_plan

FORMS = entry.forms(ENTRY)


def test_every_rule_is_about_a_field_of_its_kind() -> None:
    """A rule of a field that is not there would hold for nothing."""
    names = {(kind, field["name"]) for kind, form in FORMS.items() for field in form["fields"]}
    assert set(entry.REFUSED) | set(entry.ABOVE) | set(entry.LEAST) <= names
    assert {(kind, name) for kind, (fields, _) in entry.ANY_OF.items() for name in fields} <= names
    assert {(kind, field) for kind, (field, _) in entry.ASKED.items() if field} <= names
    assert {(kind, str(rule["on"])) for (kind, _), rule in entry.LEAST.items()} <= names
    assert set(entry.ASKED) <= set(FORMS)


def test_every_rule_reads_what_the_moment_offers() -> None:
    """Its source is among those that are sent with each version."""
    offered = offers.choices_of(suited_plan(), follow_at(suited_plan(), "0:00 clock", "0:10"))
    least = {str(rule["from"]) for rule in entry.LEAST.values()}
    assert least | set(entry.REFUSED.values()) | {source for _, source in entry.ASKED.values()} <= set(offered)


def test_a_source_says_how_many_from_where_on_what_and_whether_it_may_stay_empty() -> None:
    """As `FormField` writes it."""
    sources = {"a": "tasks", "b": "many?:before", "c": "options@a?", "d": "number?"}
    form = Form("Note", tuple(FormField(name, name, source) for name, source in sources.items()))
    one, many, hanging, number = entry.forms({"note": form})["note"]["fields"]
    assert (one["from"], one["is_choice"], one["is_many"], one["is_optional"], one["on"]) == ("tasks", True, False, False, None)
    assert (many["from"], many["is_many"], many["is_optional"]) == ("before", True, True)
    assert (hanging["from"], hanging["on"], hanging["is_optional"]) == ("options", "a", True)
    assert (number["is_choice"], number["is_number"], number["is_optional"]) == (False, True, True)


def test_a_source_that_cannot_be_read_is_said_at_once() -> None:
    """When the page is made, with the kind and the field."""
    with pytest.raises(ValueError, match="field task of start: expected a source, found 'Tasks!'"):
        entry.forms({"start": Form("Start", (FormField("task", "Task", "Tasks!"),))})


def test_pet_zero_alone_is_entered_by_utc() -> None:
    """A PET counted from the old zero would say nothing."""
    assert [kind for kind, form in FORMS.items() if form["at"] == entry.AT_UTC] == ["clock"]
    assert json.dumps(FORMS)
