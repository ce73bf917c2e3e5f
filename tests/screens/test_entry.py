"""What the entry form is told of each kind of event."""

from __future__ import annotations

import json

import pytest

from dashboard.core.events.entry import Form, FormField
from dashboard.screens import entry, offers
from dashboard.screens.log import ENTRY
from tests.scenario import follow_at
from tests.screens.plans import suited_plan

FORMS = entry.forms(ENTRY)


def test_every_rule_is_about_a_field_of_its_kind() -> None:
    """A rule of a field that is not there would hold for nothing."""
    for form in FORMS.values():
        spoken_of = {field["least"]["on"] for field in form["fields"] if field["least"]}
        spoken_of |= set(form["any_of"]["names"]) if form["any_of"] else set()
        spoken_of |= {form["ask"]["field"]} if form["ask"] and form["ask"]["field"] else set()
        assert spoken_of <= {field["name"] for field in form["fields"]}


def test_nobody_records_what_a_rule_refuses() -> None:
    """Giving up what is required, a length of nothing, or one outside what is useful."""
    rules = {(kind, field["name"]): field for kind, form in FORMS.items() for field in form["fields"]}
    assert {place: field["refused"] for place, field in rules.items() if field["refused"]} == {
        ("defer", "tasks"): "kept", ("decision", "defer"): "kept", ("trim", "task"): "required",
        ("break_off", "task"): "required",
    }  # fmt: skip
    assert {place: field["above"] for place, field in rules.items() if field["above"] is not None} == {("add", "duration"): 0}
    assert {place: field["least"]["from"] for place, field in rules.items() if field["least"]} == {
        ("trim", "duration"): "shortest", ("extend", "duration"): "longer",
    }  # fmt: skip


def test_every_rule_reads_what_the_moment_offers() -> None:
    """Its source is among those that are sent with each version."""
    offered = offers.choices_of(suited_plan(), follow_at(suited_plan(), "0:00 clock", "0:10"))
    fields = [field for form in FORMS.values() for field in form["fields"]]
    rules = {field["least"]["from"] for field in fields if field["least"]} | {field["refused"] for field in fields}
    rules |= {form["ask"]["from"] for form in FORMS.values() if form["ask"]}
    assert rules - {None} <= set(offered)
    assert dict(offered["longer"])["T010"] == "31"


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
