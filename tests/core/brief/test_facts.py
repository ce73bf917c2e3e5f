"""The models of a brief."""

from __future__ import annotations

import json

import jsonschema

from dashboard.core.brief.facts import Brief, brief_json_schema
from dashboard.core.brief.look_ahead import brief
from tests.core.brief.made import PLAN, changed

FACTS = brief(PLAN, against=changed(("loaded = 400", "loaded = 380")), draws=100)


def test_what_is_printed_follows_the_published_schema():
    """Every brief is valid under it, and can be read back without loss."""
    text = FACTS.model_dump_json()
    jsonschema.validate(json.loads(text), brief_json_schema())
    assert Brief.model_validate_json(text) == FACTS


def test_titles_and_places():
    """Of steps, get-aheads and contingency steps; a worksite without a title is named by its id."""
    assert FACTS.titles()["LAMP"] == "Change the lamp" and FACTS.titles()["LEVER"] == "Lever on" and "CLEAN" in FACTS.titles()
    assert (FACTS.place("mast"), FACTS.place("airlock"), FACTS.place(None)) == ("Lamp mast", "airlock", "")
