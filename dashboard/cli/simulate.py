"""The command `tetherline simulate`: makes simulated runs of a plan, for practice."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dashboard.cli.options import single_command
from dashboard.cli.printing import progress, show
from dashboard.core.base.problems import InputError, Problem, did_you_mean
from dashboard.log.planfile import load_plan
from dashboard.words import how_many
from replay.conditions import TROUBLES, Conditions
from replay.simulate import ON_PURPOSE, write_simulated

app = single_command()


@app.command()
def simulate(
    plan: Annotated[Path, typer.Argument(metavar="PLAN", help="The plan file (TOML).")],
    to: Annotated[Path, typer.Option("--to", help="Folder for the runs, one folder each.")],
    count: Annotated[int, typer.Option(min=1, max=10_000, help="How many runs.")] = 1,
    seed: Annotated[int, typer.Option(min=0, help="The same seed gives the same runs.")] = 1,
    pace: Annotated[float, typer.Option(help="Median factor on the briefed durations.")] = 1.0,
    spread: Annotated[float, typer.Option(help="Standard deviation, between runs, of the logarithm of a lane's pace.")] = 0.10,
    correlation: Annotated[float, typer.Option(help="Correlation between the paces of the lanes, 0 to 1.")] = 0.5,
    trouble: Annotated[
        list[str] | None,
        typer.Option(
            help="A trouble and its mean count per run, such as hold=2; may be repeated. Troubles: contingency, hold, late, "
            "amended, withdrawn, given-up, forgotten. all means one of each except forgotten, which makes a log with "
            "discrepancies."
        ),
    ] = None,
) -> None:
    """Make simulated runs of a plan, for practice and for tests. They are marked as simulated."""
    found = load_plan(plan)
    try:
        conditions = Conditions(pace, spread, correlation, _troubles(trouble or []))
    except ValueError as wrong:
        expected, _, was = str(wrong).rpartition(", not ")
        raise InputError(
            [Problem("simulate", expected or str(wrong), was or "another", "See tetherline simulate --help.")]
        ) from None
    with progress("Simulating", count) as step:
        for _ in write_simulated(found, plan.read_text(encoding="utf-8"), to, count, seed, conditions):
            step()
    show(f"{how_many(count, 'simulated run')} of {found.sortie.id} in {to}. None of it happened; each header says so.")


def _troubles(words: list[str]) -> dict[str, float]:
    """Mean count per run of each trouble. A name alone counts 1; ``all`` means every trouble that is not in `ON_PURPOSE`."""
    found: dict[str, float] = {}
    for part in (part.strip() for word in words for part in word.split(",")):
        name, equals, value = part.partition("=")
        try:
            mean = float(value) if equals else 1.0
        except ValueError:
            cure = "For instance --trouble hold=2."
            raise InputError([Problem(f"option --trouble, {name}", "a number", f"'{value}'", cure)]) from None
        if name != "all" and name not in TROUBLES:
            raise InputError(
                [
                    Problem(
                        "option --trouble",
                        f"one of {', '.join(TROUBLES)}",
                        f"'{name}'",
                        did_you_mean(name, TROUBLES),
                    )
                ]
            )
        found.update(
            dict.fromkeys((t for t in TROUBLES if t not in ON_PURPOSE), mean)
            if name == "all"
            else {name: mean}
        )
    return found
