"""The command `tetherline schema`: prints the published JSON Schemas."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from dashboard.cli.options import single_command
from dashboard.core.base.problems import InputError, Problem
from dashboard.service.schemas import SchemaOf, json_schema

app = single_command()


@app.command()
def schema(
    events: Annotated[bool, typer.Option("--events", help="Print the schema of one event of the log.")] = False,
    plan: Annotated[bool, typer.Option("--plan", help="Print the schema of the plan file.")] = False,
    brief: Annotated[bool, typer.Option("--brief", help="Print the schema of a brief as JSON.")] = False,
) -> None:
    """Print the JSON Schema of the state, of an event, of the plan, or of a brief."""
    wanted: dict[SchemaOf, bool] = {"events": events, "plan": plan, "brief": brief}
    asked = [name for name, is_asked in wanted.items() if is_asked]
    if len(asked) > 1:
        found = " and ".join(f"--{name}" for name in asked)
        raise InputError([Problem("schema", "one of --events, --plan and --brief", found, "Give one.")])
    print(json.dumps(json_schema(asked[0] if asked else "state"), indent=2))
