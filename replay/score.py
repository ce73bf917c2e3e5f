"""Scores a library of runs: over all moments, by stage of the sortie, and against simple forecasts.

Each run has the same weight, whatever the length of its log. Simulated runs and recorded runs are scored separately.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor, Future, as_completed
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from dashboard.core.schedule.expected import DRAWS
from replay.independent_runs import LeftOut
from replay.library import BrokenRun, Named
from replay.moments import RunScore, Unscorable, score_run
from replay.recording import RecordedRun

STAGES = ((0.0, 0.25), (0.25, 0.5), (0.5, 0.75), (0.75, 1.0))
BINS = 10
FORECASTS = {
    "expected": "error",
    "plan pace": "plan_pace_error",
    "briefed end": "briefed_error",
    "briefed end plus current delay": "briefed_plus_delay_error",
}

Scored = RunScore | BrokenRun


def score_all(
    runs: Iterable[Named],
    executor: Executor | None = None,
    draws: int = DRAWS,
    scored: Callable[[str], object] | None = None,
) -> list[Scored]:
    """Score every run.

    Parameters
    ----------
    runs : iterable of (str, RecordedRun or BrokenRun)
        With their names. A `BrokenRun` is returned unchanged.
    executor : concurrent.futures.Executor or None
        An executor of this computer or of a cluster; None: the runs are scored here, one after another.
    draws : int
        Number of draws of the expected projection.
    scored : callable, optional
        Called with the name of each run when its score is done.

    Returns
    -------
    list of RunScore or BrokenRun
        In the order given.
    """
    say = scored or (lambda name: None)
    if executor is None:
        found = []
        for name, run in runs:
            found.append(_score_one(name, run, draws))
            say(name)
        return found
    futures: dict[Future[Scored], str] = {
        executor.submit(_score_one, name, run, draws): name for name, run in runs
    }
    for future in as_completed(futures):
        say(futures[future])
    return [future.result() for future in futures]


def _score_one(name: str, run: RecordedRun | BrokenRun, draws: int = DRAWS) -> Scored:
    """The score of one run, or a `BrokenRun` with the reason why it has none."""
    if isinstance(run, BrokenRun):
        return run
    try:
        return score_run(run, name, draws)
    except Unscorable as wrong:
        return BrokenRun(name, str(wrong))


def groups(scores: Sequence[Scored]) -> dict[str, list[RunScore]]:
    """The scored runs in the groups ``recorded`` and ``simulated``. Empty groups are left out.

    Parameters
    ----------
    scores
        Runs without a score are left out.

    Returns
    -------
    dict of str to list of RunScore
        Group -> its runs, in the order given.
    """
    good = [score for score in scores if isinstance(score, RunScore)]
    found = {
        "recorded": [score for score in good if score.setting != "simulated"],
        "simulated": [score for score in good if score.setting == "simulated"],
    }
    return {name: group for name, group in found.items() if group}


@dataclass(frozen=True)
class Summary:
    """Tables over the runs of one group.

    Parameters
    ----------
    stages : DataFrame
        One row per stage of the sortie (by share of its actual length), one for the whole sortie, and one for the moments
        after the last change of the plan of record. Columns: P50 error and bias, P10 to P90 coverage and CRPS, for the end
        and for task finishes.
    forecasts : DataFrame
        One row per way to forecast the end: mean absolute error, bias, CRPS.
    reliability : DataFrame
        One row per bin of the forecast probability of being in by the limit: its mean, and the share of moments of runs that
        were in.
    runs : DataFrame
        One row per run.
    """

    stages: pd.DataFrame
    forecasts: pd.DataFrame
    reliability: pd.DataFrame
    runs: pd.DataFrame


def no_reliability(scores: Sequence[RunScore], found: Summary) -> str | None:
    """Why there is no reliability table.

    Parameters
    ----------
    scores : sequence of RunScore
    found : Summary
        Of these scores.

    Returns
    -------
    str or None
        None when there is a table.
    """
    if len(found.reliability):
        return None
    if all(score.in_by_limit is None for score in scores):
        return "Not known: in no run do the readings show whether every suit kept its reserve, so no outcome is known."
    return "Not known: no run with a known outcome has a moment with a forecast probability."


def summary(scores: Sequence[RunScore]) -> Summary:
    """The tables over some runs.

    Parameters
    ----------
    scores : sequence of RunScore
        At least one.

    Returns
    -------
    Summary
    """
    moments = pd.concat([score.moments.assign(run=i) for i, score in enumerate(scores)], ignore_index=True)
    return Summary(_stages(moments), _forecasts(moments), _reliability(moments, scores), _runs(scores))


def _stages(moments: pd.DataFrame) -> pd.DataFrame:
    parts: list[tuple[str, pd.DataFrame]] = [
        (
            f"{low:.0%} to {high:.0%}".replace("%", " %"),
            moments[(moments["share"] >= low) & ((moments["share"] < high) | (high == 1.0))],
        )
        for low, high in STAGES
    ]
    parts += [
        ("whole sortie", moments),
        ("after the last change of plan", moments[moments["settled"].astype(bool)]),
    ]
    return pd.DataFrame([{"stage": name, **_row(part)} for name, part in parts])


def _row(part: pd.DataFrame) -> dict[str, Any]:
    by_run = (
        pd.DataFrame(
            {
                "run": part["run"],
                "mae_min": part["error"].abs(),
                "bias_min": part["error"],
                "held": part["held"].astype(float),
                "crps_min": part["crps"],
                "task_mae_min": part["task_abs_error"],
                "task_bias_min": part["task_error"],
                "task_held": part["task_held"],
                "task_crps_min": part["task_crps"],
            }
        )
        .astype(float)
        .groupby("run")
        .mean()
    )
    return {"runs": len(by_run), "moments": len(part), **by_run.mean().to_dict()}


def _forecasts(moments: pd.DataFrame) -> pd.DataFrame:
    """The table of forecasts. The CRPS of a forecast of a single value is its absolute error."""
    rows = []
    for name, column in FORECASTS.items():
        by_run = moments.assign(e=moments[column].astype(float), a=moments[column].astype(float).abs())
        means = by_run.groupby("run")[["e", "a", "crps"]].mean().mean()
        rows.append(
            {
                "forecast": name,
                "mae_min": means["a"],
                "bias_min": means["e"],
                "crps_min": means["crps"] if name == "expected" else means["a"],
            }
        )
    return pd.DataFrame(rows)


def _reliability(moments: pd.DataFrame, scores: Sequence[RunScore]) -> pd.DataFrame:
    """The reliability table. Moments of one run are dependent, so each bin also gives its number of runs."""
    was_in = moments["run"].map({i: score.in_by_limit for i, score in enumerate(scores)})
    forecasts = pd.DataFrame(
        {
            "said": pd.to_numeric(moments["in_by_limit"]),
            "was": was_in,
            "run": moments["run"],
        }
    ).dropna()
    forecasts["bin"] = np.minimum((forecasts["said"] * BINS).astype(int), BINS - 1)
    rows = [
        {
            "from": number / BINS,
            "to": (number + 1) / BINS,
            "moments": len(part),
            "runs": part["run"].nunique(),
            "said": part["said"].mean(),
            "was": part["was"].astype(float).mean(),
        }
        for number, part in forecasts.groupby("bin")
    ]
    return pd.DataFrame(rows, columns=["from", "to", "moments", "runs", "said", "was"])


def _runs(scores: Sequence[RunScore]) -> pd.DataFrame:
    return pd.DataFrame(
        [
            {
                "name": score.name,
                "setting": score.setting,
                "date": score.date,
                "sortie": score.sortie,
                "end_pet_min": score.end_pet_min,
                "in_by_limit": score.in_by_limit,
                "moments": len(score.moments),
                "mae_min": float(score.moments["error"].abs().mean()),
                "held": float(score.moments["held"].mean()),
                "crps_min": float(score.moments["crps"].mean()),
                "first_warning_pet_min": score.warned.first_pet_min,
                "before_end_min": score.warned.before_end_min,
                "before_giving_up_min": score.warned.before_giving_up_min,
                "verdict": score.warned.verdict,
                "alerts": score.alerts.came_up,
                "alerts_per_10_min": score.alerts.mean_per_10_min,
                "most_alerts_in_10_min": score.alerts.most_in_10_min,
                "alert_toggles": score.alerts.toggles,
            }
            for score in scores
        ]
    )


def as_json(scores: Sequence[Scored], left_out: Sequence[LeftOut] = ()) -> dict[str, Any]:
    """All scores as values for JSON.

    Parameters
    ----------
    scores : sequence of RunScore or BrokenRun
    left_out : sequence of LeftOut
        Runs that are not counted.

    Returns
    -------
    dict
        Unknown values are None.
    """
    tables: dict[str, Any] = {}
    for name, group in groups(scores).items():
        found = summary(group)
        tables[name] = {
            key: json_rows(getattr(found, key)) for key in ("stages", "forecasts", "reliability", "runs")
        }
        tables[name]["moments"] = {score.name: json_rows(score.moments) for score in group}
    not_scored = [{"name": s.name, "why": s.why} for s in scores if isinstance(s, BrokenRun)]
    return {**tables, "not_scored": not_scored, "left_out": [one._asdict() for one in left_out]}


def json_rows(table: pd.DataFrame) -> list[dict[str, Any]]:
    """The rows of a table as values for JSON.

    Parameters
    ----------
    table
        Its column names become keys.

    Returns
    -------
    list of dict
        Missing and infinite numbers are None.
    """
    return [{str(key): _json_value(value) for key, value in row.items()} for row in _records(table)]


def _records(table: pd.DataFrame) -> Iterator[dict[Any, Any]]:
    yield from table.to_dict("records")


def _json_value(value: Any) -> Any:
    if isinstance(value, np.generic):
        value = value.item()
    return None if isinstance(value, float) and not math.isfinite(value) else value
