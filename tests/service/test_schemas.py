"""The published schemas describe what files may hold: judged by the jsonschema package."""

from __future__ import annotations

import json
import tomllib
from datetime import datetime
from functools import cache
from typing import Any

import jsonschema
import pytest

from dashboard.service.schemas import json_schema
from replay.recording import packaged_scenarios

FOLDER = packaged_scenarios()["lantern-2"]


def plain(value: Any) -> Any:
    """What a TOML file holds, as JSON would have it."""
    if isinstance(value, dict):
        return {key: plain(part) for key, part in value.items()}
    if isinstance(value, list):
        return [plain(part) for part in value]
    return value.isoformat() if isinstance(value, datetime) else value


def plan() -> dict[str, Any]:
    return plain(tomllib.loads((FOLDER / "plan.toml").read_text("utf-8")))


@cache
def validator(of: str) -> jsonschema.Draft202012Validator:
    return jsonschema.Draft202012Validator(json_schema(of))


def faults(of: str, content: Any) -> list[str]:
    return [fault.message for fault in validator(of).iter_errors(content)]


def test_the_plan_that_comes_with_the_program_fits_its_schema():
    """Minutes as numbers and as "H:MM", durations of one value and of three, links by name."""
    assert faults("plan", plan()) == []


@pytest.mark.parametrize(("key", "value"), [("limt", 3), ("limit", [7]), ("id", 5)])
def test_a_wrong_key_or_type_does_not_fit(key: str, value: Any):
    """The schema is no rubber stamp."""
    wrong = plan()
    wrong["sortie"][key] = value
    assert faults("plan", wrong)


def test_every_event_of_the_recorded_run_fits_its_schema():
    """Added tasks with their durations included; the line that was cut off is no event."""
    lines = next(FOLDER.glob("run-*.jsonl")).read_text("utf-8").splitlines()
    whole = [line for line in lines if line.endswith("}")]
    assert len(whole) > 150
    assert [fault for line in whole for fault in faults("events", json.loads(line))] == []


@pytest.mark.parametrize("duration", [12, "0:12", [10, 12, "0:20"]])
def test_an_added_task_may_give_its_duration_in_any_form(duration: Any):
    """As in a plan."""
    task = {"id": "X1", "lanes": ["EV1"], "duration": duration}
    assert faults("events", {"id": "e1", "at": "2031-04-12T09:10:00Z", "kind": "add", "task": task}) == []
