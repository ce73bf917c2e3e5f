"""The state as a value: frozen, with no field beyond its schema, and written without loss."""

from __future__ import annotations

import json

import pytest
from pydantic import BaseModel, ValidationError

from dashboard.core.state import model
from dashboard.core.state.model import SortieState, state_json_schema
from tests.scenario import follow_at, plan_of, task

STATE = follow_at(plan_of(task("A", "EV1", 0, [20, 30, 50])), "0:00 clock\n0:00 start A", "0:10")
PARTS = [part for part in vars(model).values() if isinstance(part, type) and issubclass(part, BaseModel)]


def test_the_state_that_is_written_is_read_back():
    """In JSON, with nothing lost."""
    assert SortieState.model_validate_json(STATE.model_dump_json()) == STATE


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.__name__)
def test_every_part_is_frozen_and_refuses_what_it_does_not_know(part: type[BaseModel]):
    """Many read one state at once: nobody may change it."""
    assert part.model_config.get("frozen") is True
    assert part.model_config.get("extra") == "forbid"


def test_a_state_does_not_change():
    """Neither itself nor a part of it."""
    with pytest.raises(ValidationError):
        STATE.pet_min = 11.0
    with pytest.raises(ValidationError):
        STATE.lanes["EV1"].state = "finished"


def test_the_schema_has_every_field_that_is_written():
    """At the top and in each part of it that the schema names."""
    schema, written = state_json_schema(), json.loads(STATE.model_dump_json())
    assert set(schema["properties"]) == set(written)
    assert set(schema["$defs"]["LaneState"]["properties"]) == set(written["lanes"]["EV1"])
    assert set(schema["$defs"]["TaskState"]["properties"]) == set(written["tasks"]["A"])
    assert set(schema["$defs"]["EndState"]["properties"]) == set(written["end"])
