"""Reads the recorded runs of a folder that durations are learned from."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import pandas as pd

from dashboard import words
from dashboard.cli.run_tables import read_runs
from dashboard.core.base.problems import InputError, Problem
from replay.independent_runs import LeftOut, independent_runs, left_out_in_words
from replay.learn import observations, real_runs
from replay.library import BrokenRun, load_all


class RunsToLearn(NamedTuple):
    """What can be learned from.

    Parameters
    ----------
    seen : DataFrame
        One row for each finished task with a known start; at least one.
    simulated_left_out : int
        How many simulated runs were not used, since there are recorded ones.
    left_out : list of LeftOut
        Rehearsals and copies, which were not used.
    broken : list of BrokenRun
        Runs that cannot be read.
    """

    seen: pd.DataFrame
    simulated_left_out: int
    left_out: list[LeftOut]
    broken: list[BrokenRun]


def runs_to_learn(folder: Path) -> RunsToLearn:
    """Read the runs of a folder.

    Parameters
    ----------
    folder
        A folder with recorded runs in it or in its folders.

    Returns
    -------
    RunsToLearn

    Raises
    ------
    InputError
        When no run has a finished task with a known start.
    """
    runs, left_out = independent_runs(load_all(folder))
    good = read_runs(runs)
    broken = [run for _, run in runs if isinstance(run, BrokenRun)]
    used, simulated_left_out = real_runs(good)
    seen = observations(used)
    if seen.empty:
        counts = [(len(good), "without such a task"), (len(broken), "that cannot be read")]
        found = " and ".join(f"{words.how_many(count, 'run')} {how}" for count, how in counts if count) or "no run"
        found += "".join(f"; {line.rstrip('.')}" for line in left_out_in_words(left_out))
        problem = Problem(
            "runs to learn from", "finished tasks with a known start", found, "Choose other runs.", str(folder)
        )
        raise InputError([problem])
    return RunsToLearn(seen, simulated_left_out, left_out, broken)
