"""The published JSON Schemas."""

from __future__ import annotations

from typing import Any, Literal

from dashboard.core.brief.facts import brief_json_schema
from dashboard.core.events.kinds import EVENT_ADAPTER
from dashboard.core.plan.model import Plan
from dashboard.core.state.model import state_json_schema

SchemaOf = Literal["state", "events", "plan", "brief"]


def json_schema(of: SchemaOf) -> dict[str, Any]:
    """Give a published JSON Schema.

    Parameters
    ----------
    of
        `state`, `events` (one event of the log), `plan`, or `brief`.

    Returns
    -------
    dict
        The schema as plain values.
    """
    if of == "events":
        return EVENT_ADAPTER.json_schema(mode="validation")
    if of == "brief":
        return brief_json_schema()
    return Plan.model_json_schema(mode="validation", by_alias=True) if of == "plan" else state_json_schema()
