"""The command `tetherline check`: every finding about a plan with its place, reason, consequence and cure, and the answer."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Annotated

import typer

from dashboard.cli.checked_plan import Checked, check_file, finding_json, verdict
from dashboard.cli.options import PlanFile, single_command
from dashboard.cli.printing import print_json
from dashboard.core.base.caution import CAUTION
from dashboard.core.base.problems import Problem
from dashboard.core.outlook.learned_length import LearnedLength
from dashboard.core.plan.finding_kinds import FINDING_KINDS
from dashboard.core.plan.model import Plan

MOST_OF_A_KIND = 20

app = single_command()


@app.command()
def check(
    plan: PlanFile,
    runs: Annotated[
        Path | None,
        typer.Option("--runs", metavar="FOLDER", help="Compare the lengths with the recorded runs in this folder."),
    ] = None,
    strict: Annotated[bool, typer.Option("--strict", help="Fail on cautions too; for automation.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the findings and the answer as JSON.")] = False,
) -> None:
    """Check a plan: every finding with its place, reason, consequence and cure, and how likely the brief is in time."""
    checked = check_file(plan) if runs is None else check_file(plan, _learned_from(runs))
    passes = checked.plan is not None and not checked.count("error") and not (strict and checked.count("caution"))
    if as_json:
        print_json(_as_json(checked, passes))
    else:
        for line in _lines(checked.problems):
            print(line)
        print(verdict(checked))
        if checked.briefed is not None:
            print(CAUTION)
    if not passes:
        raise typer.Exit(2)


def _learned_from(folder: Path) -> Callable[[Plan], Mapping[str, LearnedLength]]:
    """Plan -> what the runs of a folder say of the lengths of its tasks."""
    from dashboard.cli.runs_to_learn import runs_to_learn
    from replay.learn import fit
    from replay.learned_lengths import learned_lengths

    learned = fit(runs_to_learn(folder).seen)
    return lambda plan: learned_lengths(plan, learned)


def _lines(problems: list[Problem]) -> Iterator[str]:
    """One line for each finding, and one for those of a kind that are too many to print."""
    printed = Counter[tuple[str, str]]()
    for problem in problems:
        kind = (problem.severity, problem.code)
        printed[kind] += 1
        if printed[kind] <= MOST_OF_A_KIND or not problem.code:
            yield f"{problem.severity}: {problem.text()}"
    for (grade, code), count in printed.items():
        if code and count > MOST_OF_A_KIND:
            yield f"{grade}: and {count - MOST_OF_A_KIND} more: {FINDING_KINDS[code].what} --json has them all."


def _as_json(checked: Checked, passes: bool) -> dict[str, object]:
    briefed = checked.briefed
    end = None if briefed is None else briefed.state.end
    return {
        "sortie": None if checked.plan is None else checked.plan.sortie.id,
        "passes": passes,
        "answer": verdict(checked),
        "in_by_limit": None if briefed is None else briefed.chance,
        "confidence": None if checked.plan is None else checked.plan.sortie.confidence,
        "limit_pet_min": None if briefed is None else briefed.limit_pet_min,
        "end_plan_pace_pet_min": None if end is None else end.plan_pace_pet_min,
        "end_p50_pet_min": None if end is None else end.p50_pet_min,
        "end_p90_pet_min": None if end is None else end.p90_pet_min,
        "findings": [finding_json(problem) for problem in checked.problems],
        "caution": CAUTION,
    }
