"""The command `tetherline score`: compares what was projected at every moment of recorded runs with what happened."""

from __future__ import annotations

import multiprocessing
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from typing import Annotated, Any

import typer

from dashboard.cli.options import Json, single_command
from dashboard.cli.printing import print_json, progress, show
from dashboard.cli.run_tables import read_runs, table_of
from dashboard.core.base.caution import CAUTION
from dashboard.core.base.problems import InputError, Problem
from dashboard.figures.score_plot import RELIABILITY
from replay.independent_runs import LeftOut, independent_runs, left_out_in_words
from replay.library import BrokenRun, load_all
from replay.score import Scored, groups, no_reliability, score_all, summary
from replay.score import as_json as scores_as_json
from replay.score_page import write_page

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
    "said": "Forecast",
    "was": "Share of runs",
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

app = single_command()


@app.command()
def score(
    folder: Annotated[
        Path, typer.Argument(metavar="RUNS", help="A folder with recorded runs in it or in its folders, or one log.")
    ],
    as_json: Json = False,
    plot: Annotated[
        Path | None, typer.Option(metavar="FILE.html", help="Write the figures as one HTML file.")
    ] = None,
    plan: Annotated[
        Path | None, typer.Option(help="The plan of all runs, if there is none beside each log.")
    ] = None,
    jobs: Annotated[int, typer.Option(min=1, max=256, help="Number of processes.")] = 1,
    executor: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="A dask.distributed scheduler, such as tcp://10.0.0.5:8786."),
    ] = None,
) -> None:
    """Compare what was projected at every moment of recorded runs with what happened."""
    found, left_out = independent_runs(load_all(folder, plan))
    read_runs(found)
    with _executor_of(jobs, executor) as pool, progress("Scoring", len(found)) as step:
        scores = score_all(found, pool, scored=lambda name: step())
    if plot is not None:
        write_page(scores, plot, left_out)
    if as_json:
        print_json(scores_as_json(scores, left_out))
    else:
        show(*score_parts(scores, left_out))
    if not groups(scores):
        raise typer.Exit(2)


def score_parts(scores: Sequence[Scored], left_out: Sequence[LeftOut] = ()) -> list[Any]:
    """Make the printable parts of the scores, in minutes.

    Parameters
    ----------
    scores
        Scores of runs, runs that could not be scored included.
    left_out
        Runs that are not counted.

    Returns
    -------
    list
        Texts and tables, in reading order.
    """
    parts: list[Any] = []
    for name, group in groups(scores).items():
        found = summary(group)
        note = " These runs did not happen." if name == "simulated" else ""
        how = "Minutes; errors are projected less actual; every run has the same weight."
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
                "Runs, and alert load (at every moment of the log, and every 5 min between them)",
                STAGE_HEADS,
            ),
            "",
        ]
    broken = [score for score in scores if isinstance(score, BrokenRun)]
    if broken:
        parts += [f"Not scored ({len(broken)}):", *(f"  {one.name}: {one.why}" for one in broken), ""]
    return [*parts, *left_out_in_words(left_out), CAUTION]


@contextmanager
def _executor_of(jobs: int, address: str | None) -> Iterator[Executor | None]:
    """Give the executor that scores the runs: None (this process), processes on this computer, or a cluster.

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
        cure = "Install the program with its extra 'cluster': pip install 'tetherline[cluster]'."
        raise InputError(
            [Problem("option --executor", "the package distributed", "not installed", cure)]
        ) from None
    try:
        client = distributed.Client(address, timeout="10s")
    except (OSError, ValueError) as wrong:
        found = f"none that answers ({' '.join(str(wrong).split())[:120]})"
        cure = "Start one with: dask scheduler."
        raise InputError([Problem(f"option --executor {address}", "a dask scheduler", found, cure)]) from None
    with client:
        yield client.get_executor()
