"""The command `tetherline runs`: the recorded runs of a folder."""

from __future__ import annotations

from pandas import DataFrame

from dashboard.cli.options import Json, RunsFolder, single_command
from dashboard.cli.printing import print_json, show
from dashboard.cli.run_tables import table_of
from dashboard.core.base.problems import InputError, Problem
from dashboard.words import how_many
from replay.listing import listing
from replay.score import json_rows

app = single_command()


@app.command()
def runs(folder: RunsFolder, as_json: Json = False) -> None:
    """List the recorded runs of a folder, and why others cannot be read. The exit code is 2 when none can be read."""
    found = listing(folder)
    good, broken = found[found["why"] == ""], found[found["why"] != ""]
    if as_json:
        print_json(json_rows(found))
    else:
        _show_runs(good, broken)
    if good.empty:
        what = f"{how_many(len(broken), 'log')}, none of them readable; the reasons are listed"
        cure = "Name a log with its plan beside it, or the folder that holds such runs."
        raise InputError([Problem("library of runs", "a recorded run that can be read", what, cure, str(folder))])


def _show_runs(good: DataFrame, broken: DataFrame) -> None:
    if not good.empty:
        hidden = ["why", "unread", "pet_zero_doubt", "strange"] + ([] if good["mark"].any() else ["mark"])
        kinds = good["mark"].str.partition(",")[0]
        show(table_of(good.assign(mark=kinds).drop(columns=hidden), f"Recorded runs ({len(good)})"))
    unread = [
        f"{row.name}: {how_many(int(row.unread), 'line')} not understood"
        for row in good.itertuples(index=False)
        if row.unread
    ]
    marks = [f"{row.name}: {row.mark}" for row in good.itertuples(index=False) if row.mark]
    doubts = [f"{row.name}: {row.pet_zero_doubt}" for row in good.itertuples(index=False) if row.pet_zero_doubt]
    strange = [f"{row.name}: {row.strange}" for row in good.itertuples(index=False) if row.strange]
    listed = [f"{row.name}: {row.why}" for row in broken.itertuples(index=False)]
    for heading, lines in (
        ("Not counted in scores and learning", marks),
        ("PET zero is not known, worst behind withheld", doubts),
        ("Probably of another plan", strange),
        ("Partly not understood", unread),
        ("Cannot be read", listed),
    ):
        if lines:
            show(f"{heading} ({len(lines)}):", *(f"  {line}" for line in lines))
