"""Makes tables of recorded runs for the commands to print."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd
from rich.table import Table

from dashboard import words
from dashboard.cli.printing import warn
from replay.library import BrokenRun, Named
from replay.recording import RecordedRun
from replay.score import json_rows

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


def table_of(frame: pd.DataFrame, title: str, heads: Mapping[str, str] = HEADS) -> Table:
    """Make the printable table of a frame.

    Parameters
    ----------
    frame
        Its columns are named as in `replay.listing` and `replay.score`.
    title
        Stands above the table.
    heads
        Heading by column. A column without one gets its name.

    Returns
    -------
    Table
        Unknown values are empty, or the text in `UNKNOWN`.
    """
    table = Table(title=title, title_justify="left", box=None, pad_edge=False, header_style="")
    for column in frame.columns:
        table.add_column(heads.get(column, column.removesuffix("_min").replace("_", " ")), overflow="fold")
    for row in json_rows(frame):
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
    """Select the runs that could be read. A warning is printed for each whose log belongs to another plan.

    Parameters
    ----------
    runs
        Runs by name, those that cannot be read included.

    Returns
    -------
    list of tuple
        Name and run, in the given order.
    """
    good = [(name, run) for name, run in runs if not isinstance(run, BrokenRun)]
    for _, run in good:
        warn(run.strange)
    return good
