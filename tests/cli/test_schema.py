"""`tetherline schema`: the published formats."""

from __future__ import annotations

import json

import pytest

from tests.command import (
    assert_bad_input,
    tetherline,
)


@pytest.mark.parametrize(
    ("options", "has"), [([], "pet_min"), (["--plan"], "sortie"), (["--events"], "discriminator"), (["--brief"], "steps")]
)
def test_schema_prints_json_schema(options: list[str], has: str):
    """Of the state, the plan, an event, a brief."""
    schema = json.loads(tetherline("schema", *options).stdout)
    assert has in schema or has in schema["properties"]


def test_schema_of_two_things_at_once_is_refused():
    """One document is one schema."""
    assert_bad_input(tetherline("schema", "--plan", "--events"), "schema")
