"""The command `tetherline schema`: prints the published JSON Schemas."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from dashboard.cli.options import single_command
from dashboard.core.base.problems import InputError, Problem
from dashboard.service.schemas import json_schema

app = single_command()


@app.command()
def schema(
    events: Annotated[bool, typer.Option("--events", help="Print the schema of one event of the log.")] = False,
    plan: Annotated[bool, typer.Option("--plan", help="Print the schema of the plan file.")] = False,
) -> None:
    """Print the JSON Schema of the state, of an event, or of the plan."""
    if events and plan:
        raise InputError([Problem("schema", "one of --events and --plan", "both", "Give one.")])
    print(json.dumps(json_schema("events" if events else "plan" if plan else "state"), indent=2))
