"""The command `tetherline campaign`: what is planned in a folder, what was run, and where what was left is carried to."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer
from rich.table import Table

from dashboard import words
from dashboard.cli.options import Json, single_command
from dashboard.cli.printing import plain_table, print_json, show
from replay.campaign import Campaign, read_campaign

app = single_command()


@app.command()
def campaign(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A folder with plans and recorded runs, also in its folders.")],
    as_json: Json = False,
) -> None:
    """Show a set of sorties: what is planned, what was run, and which sortie takes what was left."""
    found = read_campaign(folder)
    if as_json:
        print_json(asdict(found))
        return
    show(_sorties(found), "", *_carried(found), *_unused(found))


def _sorties(found: Campaign) -> Table:
    heads = ("Sortie", "", "Planned for", "Tasks", "Runs", "Rehearsals", "Plan files")
    table = plain_table(f"Sorties ({len(found.sorties)})", *heads)
    for one in found.sorties:
        versions = f" ({one.plans} different plans)" if one.plans > 1 else ""
        table.add_row(
            one.sortie, one.title, one.date, str(one.tasks), ", ".join(one.runs) or "not run yet",
            ", ".join(one.rehearsals) or "none", f"{', '.join(one.files)}{versions}",
        )  # fmt: skip
    return table


def _carried(found: Campaign) -> list[Table | str]:
    if not found.carried:
        return ["No run has left a task to a later sortie."]
    table = plain_table("Left by the runs", "Run", "Task", "", "Because", "Remains", "Taken by")
    for one in found.carried:
        remains = words.duration(one.remaining_min, "up")
        table.add_row(one.run, one.task, one.title, one.because, remains, one.taken_by or "no later sortie yet")
    return [table]


def _unused(found: Campaign) -> list[str]:
    return ["", "Cannot be used:", *(f"  {one.name}: {one.why}" for one in found.unused)] if found.unused else []
