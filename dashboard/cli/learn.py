"""The command `tetherline learn`: learns durations from recorded runs, and tests whether they beat the brief."""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import pandas as pd
import typer

from dashboard import words
from dashboard.cli.options import Json, PlanOption, single_command
from dashboard.cli.printing import print_json, show
from dashboard.cli.run_tables import table_of
from dashboard.cli.runs_to_learn import runs_to_learn
from dashboard.core.base.caution import CAUTION
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.plan.model import Plan
from dashboard.log.planfile import examine_plan, load_plan
from dashboard.log.whole_file import write_whole
from replay.independent_runs import LeftOut, left_out_in_words
from replay.learn import CrossValidation, Fit, cross_validated, fit, learned_table
from replay.learned_plan import with_learned
from replay.library import BrokenRun
from replay.score import json_rows

LEARN_HEADS = {
    "task": "Task",
    "title": "",
    "activity": "Activity",
    "briefed": "Briefed",
    "learned": "Learned",
    "factor": "Factor",
    "log_sd": "Log-sd",
    "n": "Tasks",
    "runs": "Runs",
    "settings": "Settings",
    "from": "By",
}

app = single_command()


@app.command()
def learn(
    folder: Annotated[
        Path, typer.Argument(metavar="RUNS", help="A folder with recorded runs in it or in its folders.")
    ],
    plan: PlanOption,
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="NEW.toml", help="Write a plan file with the learned durations."),
    ] = None,
    as_json: Json = False,
) -> None:
    """Learn durations from recorded runs, compare them with the brief, and check them on runs that were left out."""
    result = _learn(folder, plan)
    if to is not None and to.exists():
        raise InputError(
            [Problem("option --to", "a new file", "an existing one", "Choose another name.", str(to))]
        )
    if as_json:
        print_json(_learn_json(result))
    else:
        show(*learn_parts(result))
    if to is not None:
        said: list[Any] = _new_plan(result, plan, to)
        for line in said:
            print(line, file=sys.stderr if as_json else sys.stdout)


@dataclass(frozen=True)
class LearnResult:
    """The result of `tetherline learn`.

    Attributes
    ----------
    plan
        The plan that the durations are learned for.
    seen
        One row for each finished task with a known start.
    fit
        What was learned.
    table
        One row for each task of the plan: briefed and learned durations.
    checked
        The test on runs that were left out; None when there is only one run.
    simulated_left_out
        How many simulated runs were not used, since there are recorded ones.
    left_out
        Rehearsals and copies, which were not used.
    broken
        Runs that cannot be read.
    """

    plan: Plan
    seen: pd.DataFrame
    fit: Fit
    table: pd.DataFrame
    checked: CrossValidation | None
    simulated_left_out: int
    left_out: list[LeftOut]
    broken: list[BrokenRun]


def _learn(folder: Path, plan_path: Path) -> LearnResult:
    """Learn durations for a plan from the runs of a folder.

    Raises
    ------
    InputError
        When no run has a finished task with a known start, or the plan cannot be used.
    """
    plan = load_plan(plan_path)
    told = runs_to_learn(folder)
    learned = fit(told.seen)
    return LearnResult(
        plan, told.seen, learned, learned_table(plan, learned), cross_validated(told.seen), told.simulated_left_out,
        told.left_out, told.broken,
    )


def learn_parts(result: LearnResult) -> list[Any]:
    """Make the printable parts of a result: learned and briefed durations, the settings, and the test on left-out runs.

    Parameters
    ----------
    result
        The result of `tetherline learn`.

    Returns
    -------
    list
        Texts and tables, in reading order.
    """
    table = result.table.copy()
    for kind in ("briefed", "learned"):
        table[kind] = [
            "" if pd.isna(likely) else f"{low:g}/{likely:g}/{high:g}"
            for low, likely, high in zip(
                *(table[f"{kind}_{part}"] for part in ("low", "likely", "high")), strict=True
            )
        ]
    shown = table[["task", "title", "briefed", "learned", "factor", "n", "runs", "settings", "from"]].rename(
        columns={"from": "by"}
    )
    parts: list[Any] = [
        f"Learned from {_learned_from(result)}. Minutes, low/likely/high, without the spread of the pace between days.",
        "",
        table_of(shown, "Briefed against learned", {**LEARN_HEADS, "by": "By"}),
        "",
        *_settings(result),
        _pays(result.checked),
    ]
    parts += left_out_in_words(result.left_out)
    if result.simulated_left_out:
        simulated = words.how_many(result.simulated_left_out, "simulated run")
        parts.append(f"{simulated} left out, because there are recorded ones.")
    if result.broken:
        parts += [
            f"Cannot be read ({len(result.broken)}):",
            *(f"  {one.name}: {one.why}" for one in result.broken),
        ]
    return [*parts, CAUTION]


def _learned_from(result: LearnResult) -> str:
    tasks = words.how_many(len(result.seen), "finished task")
    return f"{tasks} of {words.how_many(result.seen['run'].nunique(), 'run')}"


def _settings(result: LearnResult) -> list[str]:
    fitted = result.fit
    if not fitted.settings:
        return [f"Factor between settings: not known. The durations are those of: {fitted.for_setting}."]
    lines = [
        f"{name} against flight: factor {factor:.2f} (log-sd {sd:.2f})"
        for name, (factor, sd) in fitted.settings.items()
    ]
    return [
        "The durations are those of flight; the factor of each other setting is learned separately:",
        *(f"  {line}" for line in lines),
    ]


def _pays(found: CrossValidation | None) -> str:
    if found is None:
        return "Whether the learned durations beat the briefed ones cannot be tested with one run."
    better = found.learned_error < found.briefed_error, found.learned_crps_min < found.briefed_crps_min
    verdict = "beat the briefed ones" if all(better) else "do not beat the briefed ones"
    if any(better) and not all(better):
        verdict = f"beat the briefed ones by {'the log error' if better[0] else 'the CRPS'} only"
    return (
        f"Leaving one run out at a time ({found.runs} runs, {words.how_many(found.n, 'task')}): learned durations {verdict}. "
        f"Mean absolute log error {found.learned_error:.3f} against {found.briefed_error:.3f}, CRPS {found.learned_crps_min:.2f} "
        f"against {found.briefed_crps_min:.2f} min; better in {found.runs_better} of {found.runs} runs."
    )


def _learn_json(result: LearnResult) -> dict[str, Any]:
    """The result as values for JSON."""
    return {
        "observations": len(result.seen),
        "runs": int(result.seen["run"].nunique()),
        "durations_of": result.fit.for_setting,
        "settings": {
            name: {"factor": factor, "log_sd": sd} for name, (factor, sd) in result.fit.settings.items()
        },
        "tasks": json_rows(result.table),
        "activities": [
            {
                "activity": name,
                "factor": round(math.exp(one.log_mean), 4),
                "scatter": one.scatter,
                "doubt": one.doubt,
                "n": one.n,
                "runs": one.runs,
                "settings": list(one.settings),
            }
            for name, one in result.fit.kinds.items()
        ],
        "left_one_run_out": None if result.checked is None else result.checked._asdict(),
        "simulated_left_out": result.simulated_left_out,
        "left_out": [one._asdict() for one in result.left_out],
        "cannot_be_read": [{"name": b.name, "why": b.why} for b in result.broken],
        "caution": CAUTION,
    }


def _new_plan(result: LearnResult, plan_path: Path, to: Path) -> list[str]:
    """Write the plan with learned durations to a new file, and return lines to print.

    Raises
    ------
    InputError
        When the file cannot be written.
    """
    heading = (
        f"Durations learned from {_learned_from(result)} ({result.fit.for_setting}); starts are later where needed.\n"
        f"{_pays(result.checked)}\n{CAUTION}"
    )
    made = with_learned(plan_path.read_text(encoding="utf-8"), result.plan, result.table, heading)
    try:
        write_whole(to, made.text.encode())
    except OSError as wrong:
        raise InputError(
            [Problem("option --to", "a place to write a file", str(wrong.strerror), "Choose another place.", str(to))]
        ) from None
    _, problems = examine_plan(to)
    lines = [f"The plan with learned durations is {to}."]
    lines += [f"Left as briefed: {task}, {why}." for task, why in made.kept.items()]
    return lines + [f"{problem.severity}: {problem.text()}" for problem in problems]
