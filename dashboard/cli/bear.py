"""The command `tetherline bear`: what a plan can bear, in words, as JSON, or as a page, a PDF or a picture."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.table import Table
from rich.text import Text

from dashboard.cli.checked_plan import plan_to_brief
from dashboard.cli.options import Json, PlanFile, single_command
from dashboard.cli.printing import show
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.outlook.bear import what_it_bears
from dashboard.core.outlook.bear_model import Bears
from dashboard.core.outlook.findings import briefed_plan
from dashboard.figures.bear import bear_sheet
from dashboard.figures.svg import svg
from dashboard.log.whole_file import write_whole
from dashboard.reports import document
from dashboard.reports.bear_document import WIDTH, bear_document, bear_parts, summary
from dashboard.reports.html import html
from dashboard.service.version import program_version

ENDINGS = (".html", ".pdf", ".svg")

app = single_command()


@app.command()
def bear(
    plan: PlanFile,
    to: Annotated[
        Path | None, typer.Option("--to", metavar="FILE", help="Write a page (.html), a PDF (.pdf) or the picture alone (.svg).")
    ] = None,
    proven: Annotated[
        bool, typer.Option("--proven", help="Prove that what goes after lost time and for certainty costs least; takes minutes.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Say what a plan can bear: late starts, lost time, the worst delay, turn-back times, and what certainty costs."""
    if to is not None:
        _checked(to)
    briefed = briefed_plan(plan_to_brief(plan))
    bears = what_it_bears(briefed, proven=proven, progress=_progress)
    if to is not None:
        _write(bears, to)
    if as_json:
        print(bears.model_dump_json(indent=2))
        return
    written = [f"Written to {to}."] if to is not None else []
    show(f"Sortie {bears.sortie}. {summary(bears)}", *_parts(bears), "", *written, bears.caution)


def _progress(what: str) -> None:
    print(f"working out {what}", file=sys.stderr, flush=True)


def _checked(to: Path) -> None:
    """Refuse a file that cannot be written, before anything is computed."""
    if to.suffix.lower() not in ENDINGS:
        raise InputError([Problem("option --to", f"a file that ends in {', '.join(ENDINGS)}", f"'{to}'", "Give another name.")])
    if to.exists() or not to.parent.is_dir():
        found = "an existing file" if to.exists() else "no such folder"
        raise InputError([Problem("option --to", "a new file in a folder that is there", found, "Choose another name.", str(to))])


def _write(bears: Bears, to: Path) -> None:
    made = bear_document(bears, datetime.now(UTC), program_version())
    if to.suffix.lower() == ".pdf":
        from dashboard.reports.pdf import pdf

        content = pdf(made)
    elif to.suffix.lower() == ".html":
        content = html(made).encode()
    else:
        drawing = bear_sheet(bears, WIDTH)
        if drawing is None:
            found = "no task in the plan of record"
            raise InputError([Problem("option --to", "something to draw", found, "Give a plan with work for the crew.")])
        content = svg(drawing).encode()
    try:
        write_whole(to, content)
    except OSError as wrong:
        raise InputError([Problem("option --to", "a place to write", str(wrong.strerror), "Choose another.", str(to))]) from None


def _parts(bears: Bears) -> Iterator[Any]:
    """The tables as printable parts."""
    for part in bear_parts(bears):
        if isinstance(part, document.Heading):
            yield Text("")
            yield Text(f"{part.text}:")
        elif isinstance(part, document.Paragraph):
            yield Text(f"  {part.text}")
        elif isinstance(part, document.Table):
            table = Table(box=None, pad_edge=False, header_style="")
            for column in part.columns:
                table.add_column(column.head, overflow="fold", justify="right" if column.figures else "left")
            for row in part.rows:
                table.add_row(*row)
            yield table
