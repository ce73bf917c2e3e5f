"""The command `tetherline check`: prints every problem of a plan with its place and its cure."""

from __future__ import annotations

from typing import Annotated

import typer

from dashboard.cli.options import PlanFile, single_command
from dashboard.log.planfile import examine_plan
from dashboard.words import how_many

app = single_command()


@app.command()
def check(
    plan: PlanFile,
    strict: Annotated[bool, typer.Option("--strict", help="Treat warnings as errors.")] = False,
) -> None:
    """Check a plan, and print every problem with its place and its cure."""
    found, problems = examine_plan(plan)
    for problem in problems:
        print(f"{problem.severity}: {problem.text()}")
    errors = sum(problem.severity == "error" for problem in problems)
    if found is None or errors or (strict and problems):
        raise typer.Exit(2)
    lanes, tasks = how_many(len(found.lanes), "lane"), how_many(len(found.tasks), "task")
    ending = f" {how_many(len(problems), 'warning')} above." if problems else ""
    print(f"The plan of sortie {found.sortie.id} can be used: {lanes}, {tasks}.{ending}")
