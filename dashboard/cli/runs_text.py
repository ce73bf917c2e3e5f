"""What the commands over recorded runs print: tables, reports, progress; and where long work is done."""

from __future__ import annotations

import json
import math
import multiprocessing
import os
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

import pandas as pd
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table

from dashboard import words
from dashboard.cli.state import PIPED_WIDTH, warn
from dashboard.core.base.caution import CAUTION
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.plan.model import Plan
from dashboard.figures.score_plot import RELIABILITY
from dashboard.log.planfile import examine_plan, load_plan
from dashboard.log.sheetlog import SheetLog
from replay.evidence import LeftOut, evidence, in_words
from replay.learn import CrossValidation, Fit, cross_validated, fit, learned_table, observations, real_runs
from replay.learned_plan import with_learned
from replay.library import BrokenRun, Named, load_all
from replay.recording import RecordedRun
from replay.score import Scored, groups, no_reliability, plain_rows, summary

HEADS = {
    "name": "Run",
    "setting": "Setting",
    "date": "Date",
    "sortie": "Sortie",
    "events": "Events",
    "length_min": "Length",
    "worst_behind_min": "Worst behind, min",
    "ended": "Ended",
    "mark": "Mark",
}
UNKNOWN = {"worst_behind_min": "not known"}  # the reason stands below the table
LENGTHS = ("length_min",)
PERCENTS = ("held", "task_held", "said", "was", "from", "to")
PETS = ("end_pet_min", "first_warning_pet_min")


def show(*parts: Any) -> None:
    """Print texts and tables, as wide as the screen; a pipe gets a fixed width."""
    width = None if sys.stdout.isatty() or "COLUMNS" in os.environ else PIPED_WIDTH
    console = Console(width=width, markup=False, highlight=False, emoji=False)
    for part in parts:
        console.print(part, overflow="fold")


def print_json(value: Any) -> None:
    """Print a value as JSON."""
    print(json.dumps(value, indent=2, ensure_ascii=False, default=str))


def table_of(frame: pd.DataFrame, title: str, heads: Mapping[str, str] = HEADS) -> Table:
    """A table of runs as it is printed; what is not known stays empty."""
    table = Table(title=title, title_justify="left", box=None, pad_edge=False, header_style="")
    for column in frame.columns:
        table.add_column(heads.get(column, column.removesuffix("_min").replace("_", " ")), overflow="fold")
    for row in plain_rows(frame):
        table.add_row(*(_cell(key, value) for key, value in row.items()))
    return table


def _cell(column: str, value: Any) -> str:
    if value is None:
        return UNKNOWN.get(column, "")
    if isinstance(value, bool):
        return "yes" if value else "no"
    if column in PETS:
        return words.pet(value, "up")
    if column in LENGTHS:
        return words.duration(value)
    if column in PERCENTS:
        return f"{value:.0%}".replace("%", " %")
    if isinstance(value, float):
        return (
            f"{value:.0f}"
            if value.is_integer()
            else f"{value:.1f}"
            if column.endswith("_min")
            else f"{value:.2f}"
        )
    return str(value)


def read_runs(runs: Sequence[Named]) -> list[tuple[str, RecordedRun]]:
    """The runs that could be read; a warning for each whose log plainly belongs to another plan."""
    good = [(name, run) for name, run in runs if not isinstance(run, BrokenRun)]
    for _, run in good:
        warn(run.strange)
    return good


@contextmanager
def progress(what: str, total: int) -> Iterator[Callable[[], None]]:
    """A bar on standard error while work goes on; only where a person looks."""
    console = Console(stderr=True)
    bar = Progress(
        TextColumn(what),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        console=console,
        transient=True,
        disable=not console.is_terminal,
    )
    with bar:
        task = bar.add_task(what, total=total)
        yield lambda: bar.advance(task)


@contextmanager
def executor_of(jobs: int, address: str | None) -> Iterator[Executor | None]:
    """Where the runs are scored: here (None), in processes of this computer, or on a cluster.

    Raises
    ------
    InputError
        When the cluster cannot be used.
    """
    if address is not None:
        with _cluster(address) as pool:
            yield pool
    elif jobs > 1:
        with ProcessPoolExecutor(jobs, mp_context=multiprocessing.get_context("spawn")) as pool:
            yield pool
    else:
        yield None


@contextmanager
def _cluster(address: str) -> Iterator[Executor]:
    try:
        distributed = import_module("distributed")
    except ModuleNotFoundError:
        cure = "Install the program with its extra 'cluster': pip install 'tetherline[cluster]'"
        raise InputError(
            [Problem("option --executor", "the package distributed", "not installed", cure)]
        ) from None
    try:
        client = distributed.Client(address, timeout="10s")
    except (OSError, ValueError) as wrong:
        found = f"none that answers ({' '.join(str(wrong).split())[:120]})"
        cure = "Start one with: dask scheduler"
        raise InputError([Problem(f"option --executor {address}", "a dask scheduler", found, cure)]) from None
    with client:
        yield client.get_executor()


# --- import-log -----------------------------------------------------------------------------------


def import_report(log: SheetLog, plan: Plan, to: Path) -> list[Any]:
    """What became of a log sheet."""
    work, unread = words.how_many(len(log.events) - log.notes, "event"), len(log.unread)
    understood = f"{words.how_many(unread, 'row')} not understood" if unread else "every row was read"
    parts: list[Any] = [f"The run is in {to}: {work} and {words.how_many(log.notes, 'note')}; {understood}.", *log.said]
    if log.unmatched:
        titles = {name: task.title for name, task in plan.all_tasks().items()}
        titles |= {one.id: one.title for one in plan.contingencies}
        parts += [f"Not taken, kept as notes ({len(log.unmatched)}):"]
        for one in log.unmatched:
            offered = ", ".join(f"{name} {titles[name]}".strip() for name in one.near)
            parts.append(f"  row {one.row}: '{one.words}': {one.why}.{f' Close: {offered}' if offered else ''}")
        near = next((one for one in log.unmatched if len(one.near) == 1), None)
        if near is not None:
            parts.append(f"To take one: --match '{near.words}={near.near[0]}'")
    if log.unread:
        parts.append(f"Not understood, kept word for word ({len(log.unread)}):")
        parts += [f"  {line.where}: {line.why} | {line.line}" for line in log.unread]
    return parts


# --- score ----------------------------------------------------------------------------------------


STAGE_HEADS = {
    "stage": "Stage",
    "runs": "Runs",
    "moments": "Moments",
    "mae_min": "|P50 - end|",
    "bias_min": "Bias",
    "held": "P10-P90 held",
    "crps_min": "CRPS",
    "task_mae_min": "Tasks |P50 - finish|",
    "task_bias_min": "Bias",
    "task_held": "Held",
    "task_crps_min": "CRPS",
    "forecast": "Forecast of the end",
    "from": "From",
    "to": "To",
    "said": "Said",
    "was": "Was so",
    "name": "Run",
    "end_pet_min": "End, PET",
    "in_by_limit": "In by limit",
    "first_warning_pet_min": "First warning, PET",
    "before_end_min": "Before the end",
    "before_giving_up_min": "Before giving up",
    "verdict": "Warning was",
    "alerts": "Alerts",
    "alerts_per_10_min": "Per 10 min",
    "most_alerts_in_10_min": "Most in 10 min",
    "alert_toggles": "Toggles",
}


def score_parts(scores: Sequence[Scored], left_out: Sequence[LeftOut] = ()) -> list[Any]:
    """The scores as printable parts, minutes throughout."""
    parts: list[Any] = []
    for name, group in groups(scores).items():
        found = summary(group)
        note = " None of these runs happened." if name == "simulated" else ""
        how = "Minutes; errors are projected less actual; every run weighs the same."
        parts.append(f"{name.capitalize()} runs ({len(group)}). {how}{note}")
        runs, why = found.runs, no_reliability(group, found)
        parts += [
            "",
            table_of(found.stages, "By how far the sortie had come", STAGE_HEADS),
            "",
            table_of(found.forecasts, "Ways to forecast the end", STAGE_HEADS),
            "",
            f"{RELIABILITY}. {why}" if why else table_of(found.reliability, RELIABILITY, STAGE_HEADS),
            "",
            table_of(
                runs[
                    [
                        "name",
                        "end_pet_min",
                        "in_by_limit",
                        "first_warning_pet_min",
                        "before_end_min",
                        "before_giving_up_min",
                        "verdict",
                    ]
                ],
                "First warning (advice needed)",
                STAGE_HEADS,
            ),
            "",
            table_of(
                runs[
                    [
                        "name",
                        "mae_min",
                        "held",
                        "crps_min",
                        "alerts",
                        "alerts_per_10_min",
                        "most_alerts_in_10_min",
                        "alert_toggles",
                    ]
                ],
                "Runs, and alert load (at every moment of the log, and every 5 min of a quiet spell)",
                STAGE_HEADS,
            ),
            "",
        ]
    broken = [score for score in scores if isinstance(score, BrokenRun)]
    if broken:
        parts += [f"Not scored ({len(broken)}):", *(f"  {one.name}: {one.why}" for one in broken), ""]
    return [*parts, *in_words(left_out), CAUTION]


# --- learn ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class LearnResult:
    """Everything that `tetherline learn` found."""

    plan: Plan
    seen: pd.DataFrame
    fit: Fit
    table: pd.DataFrame
    checked: CrossValidation | None
    simulated_left_out: int
    left_out: list[LeftOut]
    broken: list[BrokenRun]


def learned_from(folder: Path, plan_path: Path) -> LearnResult:
    """Learn from the runs of a folder for a plan.

    Raises
    ------
    InputError
        When there is nothing to learn from.
    """
    plan = load_plan(plan_path)
    runs, left_out = evidence(load_all(folder))
    good = read_runs(runs)
    broken = [run for _, run in runs if isinstance(run, BrokenRun)]
    used, simulated_left_out = real_runs(good)
    seen = observations(used)
    if seen.empty:
        found = f"{words.how_many(len(good), 'run')} with none, {words.how_many(len(broken), 'run')} that cannot be read"
        found += "".join(f"; {line.rstrip('.')}" for line in in_words(left_out))
        raise InputError(
            [
                Problem(
                    "runs to learn from",
                    "finished tasks with a known start",
                    found,
                    "Choose others.",
                    str(folder),
                )
            ]
        )
    learned = fit(seen)
    return LearnResult(
        plan, seen, learned, learned_table(plan, learned), cross_validated(seen), simulated_left_out, left_out, broken
    )


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


def learn_parts(result: LearnResult) -> list[Any]:
    """Briefed against learned, the evidence, the settings, and whether it pays."""
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
        f"Learned from {_evidence(result)}. Minutes, low/likely/high; the pace of a single day is not in them.",
        "",
        table_of(shown, "Briefed against learned", {**LEARN_HEADS, "by": "By"}),
        "",
        *_settings(result),
        _pays(result.checked),
    ]
    parts += in_words(result.left_out)
    if result.simulated_left_out:
        simulated = words.how_many(result.simulated_left_out, "simulated run")
        parts.append(f"{simulated} left out: there are recorded ones.")
    if result.broken:
        parts += [
            f"Cannot be read ({len(result.broken)}):",
            *(f"  {one.name}: {one.why}" for one in result.broken),
        ]
    return [*parts, CAUTION]


def _evidence(result: LearnResult) -> str:
    tasks = words.how_many(len(result.seen), "finished task")
    return f"{tasks} of {words.how_many(result.seen['run'].nunique(), 'run')}"


def _settings(result: LearnResult) -> list[str]:
    fitted = result.fit
    if not fitted.settings:
        return [f"Setting to flight: not known. The durations are those of: {fitted.for_setting}."]
    lines = [
        f"{name} against flight: factor {factor:.2f} (log-sd {sd:.2f})"
        for name, (factor, sd) in fitted.settings.items()
    ]
    return [
        "The durations are those of flight; what the setting adds is kept apart:",
        *(f"  {line}" for line in lines),
    ]


def _pays(found: CrossValidation | None) -> str:
    if found is None:
        return "Whether learned durations beat the briefed ones cannot be told from one run."
    better = found.learned_error < found.briefed_error, found.learned_crps_min < found.briefed_crps_min
    verdict = "beat the briefed ones" if all(better) else "do not beat the briefed ones"
    if any(better) and not all(better):
        verdict = f"beat the briefed ones by {'the log error' if better[0] else 'the CRPS'} only"
    return (
        f"Leaving one run out at a time ({found.runs} runs, {words.how_many(found.n, 'task')}): learned durations {verdict}. "
        f"Mean absolute log error {found.learned_error:.3f} against {found.briefed_error:.3f}, CRPS {found.learned_crps_min:.2f} "
        f"against {found.briefed_crps_min:.2f} min; better in {found.runs_better} of {found.runs} runs."
    )


def learn_json(result: LearnResult) -> dict[str, Any]:
    """Everything as plain values."""
    return {
        "observations": len(result.seen),
        "runs": int(result.seen["run"].nunique()),
        "durations_of": result.fit.for_setting,
        "settings": {
            name: {"factor": factor, "log_sd": sd} for name, (factor, sd) in result.fit.settings.items()
        },
        "tasks": plain_rows(result.table),
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


def new_plan(result: LearnResult, plan_path: Path, to: Path) -> list[str]:
    """Write the plan with learned durations; gives what to say about it.

    Raises
    ------
    InputError
        When it cannot be written.
    """
    heading = (
        f"Durations learned from {_evidence(result)} ({result.fit.for_setting}); starts moved back where needed.\n"
        f"{_pays(result.checked)}\n{CAUTION}"
    )
    made = with_learned(plan_path.read_text(encoding="utf-8"), result.plan, result.table, heading)
    try:
        to.write_text(made.text, encoding="utf-8", newline="")
    except OSError as wrong:
        raise InputError(
            [Problem("option --to", "a place to write", str(wrong.strerror), "Choose another.", str(to))]
        ) from None
    _, problems = examine_plan(to)
    told = [f"The plan with learned durations is {to}."]
    told += [f"Left as briefed: {task}, {why}." for task, why in made.kept.items()]
    return told + [f"{problem.severity}: {problem.text()}" for problem in problems]
