"""The command `tetherline compare`: two recorded runs side by side, or one beside its brief."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer
from rich.table import Table

from dashboard import words
from dashboard.cli.options import Json, single_command
from dashboard.cli.printing import plain_table, print_json, show, warn
from dashboard.core.base.caution import CAUTION
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.debrief.compare import Comparison, beside_the_brief, called, side_by_side
from dashboard.core.debrief.facts import Debrief
from dashboard.core.debrief.look_back import debrief
from dashboard.log.whole_file import write_whole
from dashboard.reports.comparison_document import comparison_document, ends_said
from dashboard.reports.html import html
from dashboard.service.version import program_version
from replay.recording import load_run

MOST_TASKS = 12
Run = Annotated[Path, typer.Argument(metavar="RUN", help="A recorded run: its log, or the folder with its plan and log.")]
Other = Annotated[Path | None, typer.Argument(metavar="OTHER", help="A second run; without it, the brief of the first.")]

app = single_command()


@app.command()
def compare(
    run: Run,
    other: Other = None,
    to: Annotated[Path | None, typer.Option("--to", metavar="FILE", help="Write the comparison as a page (HTML).")] = None,
    force: Annotated[bool, typer.Option("--force", help="Overwrite an existing page.")] = False,
    as_json: Json = False,
) -> None:
    """Compare two recorded runs, or a run with its brief: ends, where the minutes went, tasks, what was left."""
    if to is not None and to.exists() and not force:
        cure = "Name another file, or give --force to write over it."
        raise InputError([Problem(f"file {to}", "no file there yet", "one", cure, str(to))])
    runs = [(called(_name(path), facts), facts) for path in (run, other) if path is not None for facts in [_facts(path)]]
    if len(runs) == 2 and runs[0][0] == runs[1][0]:
        runs = [(f"{name} ({place})", facts) for (name, facts), place in zip(runs, ("first", "second"), strict=True)]
    compared = beside_the_brief(*runs[0]) if other is None else side_by_side(*runs[0], *runs[1])
    if to is not None:
        _write(to, html(comparison_document(compared, runs, datetime.now(UTC), program_version())))
    if as_json:
        print_json(compared.as_dict() | {"caution": CAUTION})
        return
    show(*_tables(compared), *([f"Written to {to}."] if to is not None else []), "", CAUTION)


def _name(path: Path) -> str:
    resolved = path.resolve()
    return resolved.parent.name if resolved.name == "log.jsonl" else resolved.stem


def _facts(path: Path) -> Debrief:
    found = load_run(path)
    warn(found.strange)
    unread = [line for _, line in found.unread]
    return debrief(found.plan, found.events, found.last, unread=unread, draws=0, rehearsal=found.rehearsal)


def _write(to: Path, page: str) -> None:
    try:
        write_whole(to, page.encode())
    except OSError as wrong:
        found = f"one that cannot be written ({wrong.strerror})"
        raise InputError([Problem(f"file {to}", "a file to write to", found, "Name another file.", str(to))]) from None


def _tables(compared: Comparison) -> list[Table | str]:
    ends = plain_table("Ends (PET)", "", compared.first, compared.second, "Difference")
    for name, pair in (("Crew", compared.end_pet_min), *compared.lanes.items()):
        ends.add_row(name, *ends_said(pair))
    tasks = plain_table("Tasks in both, the largest difference first", "Task", "", "Minutes, first", "Minutes, second", "Length")
    for one in compared.tasks[:MOST_TASKS]:
        minutes = [words.or_why(value, lambda v: f"{v:.0f}") for value in (one.worked_min.first, one.worked_min.second)]
        tasks.add_row(one.task, one.title, *minutes, words.compared(one.worked_min.difference, "longer", "shorter"))
    more = len(compared.tasks) - MOST_TASKS
    return [
        f"{compared.second} beside {compared.first}", "", ends, "", tasks,
        *([f"and {words.how_many(more, 'more task')} with smaller differences"] if more > 0 else []), "",
        f"Only in {compared.first}: {', '.join(compared.only_first) or 'nothing'}.",
        f"Only in {compared.second}: {', '.join(compared.only_second) or 'nothing'}.",
    ]
