"""The command `tetherline brief`: the plan walked through before the sortie, in words, as JSON, and as files in a folder."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.table import Table
from rich.text import Text

from dashboard import words
from dashboard.cli.options import Json, PlanFile, single_command
from dashboard.cli.printing import listed, show, warn
from dashboard.core.base.problems import InputError
from dashboard.core.brief.facts import Brief
from dashboard.core.brief.look_ahead import brief
from dashboard.core.plan.model import Plan
from dashboard.log.planfile import examine_plan
from dashboard.log.textfile import refusal
from dashboard.reports import brief_words as said
from dashboard.service.version import program_version

app = single_command()


@app.command("brief")
def brief_plan(
    plan: PlanFile,
    to: Annotated[
        Path | None, typer.Option("--to", metavar="FOLDER", help="Write the printed brief and the cuff pages to this folder.")
    ] = None,
    against: Annotated[
        Path | None,
        typer.Option("--against", metavar="OLD", help="Folder or plan of the last issue: list and mark what changed."),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Overwrite an existing brief.")] = False,
    as_json: Json = False,
) -> None:
    """Brief a plan: every step in words, and on paper with lane sheet, task sheet and cuff-size pages. Advisory."""
    facts = brief(_plan(plan), against=None if against is None else _plan(_last_issue(against)))
    written: list[str] = []
    if to is not None:
        written = _write(facts, plan, to, force)
    if as_json:
        print(facts.model_dump_json(indent=2))
        return
    show(*_summary(facts), *written, "", facts.caution)


def _last_issue(path: Path) -> Path:
    """The plan of the last issue, which its folder holds too."""
    from dashboard.reports.brief_folder import BRIEFED_PLAN, NAMES

    if not path.is_dir() and path.name not in NAMES:
        return path
    folder = path if path.is_dir() else path.parent
    if not (folder / BRIEFED_PLAN).is_file():
        expected, cure = f"a plan, or a folder of a brief with its {BRIEFED_PLAN}", "Give the plan of the last issue."
        raise refusal(path, expected, "neither", cure)
    return folder / BRIEFED_PLAN


def _write(facts: Brief, plan: Path, to: Path, force: bool) -> list[str]:
    from dashboard.reports.brief_folder import NAMES, brief_files
    from dashboard.reports.folder import ready, write_files

    ready(to, force, NAMES, "brief")
    files = brief_files(facts, plan.read_bytes(), datetime.now(UTC), program_version())
    write_files(to, files, NAMES)
    return ["", f"Written to {to}: {', '.join(files)}."]


def _plan(path: Path) -> Plan:
    """Read a plan. Errors with which it can still be followed are printed on standard error as warnings."""
    plan, problems = examine_plan(path)
    if plan is None:
        raise InputError(problems)
    for problem in problems:
        if problem.severity == "error":
            warn(problem)
    return plan


def _summary(facts: Brief) -> Iterator[Any]:
    """The brief as printable parts, in the order of the walk-through."""
    yield Text(f"{facts.title} ({facts.sortie})" if facts.title else facts.sortie)
    yield Text(f"Brief, revision {facts.revision}. Planned PET zero {words.date(facts.start)} {words.utc_named(facts.start)}.")
    for sentence in said.promise(facts):
        yield Text(sentence)
    if facts.against is not None:
        changes = [f"{about}: {what}" for about, what in map(said.change, facts.against.changes)]
        yield from listed(f"Changed since revision {facts.against.revision}", changes) or [
            Text(f"Nothing changed since revision {facts.against.revision}.")
        ]
    yield Text("")
    yield _steps(facts)
    waits = [
        f"PET {said.span(one.from_pet_min, one.to_pet_min)} {one.lane}: {said.waited_for(facts, one.wait)}; "
        f"fits: {said.fills(facts, one)}"
        for one in facts.waits if one.fills
    ]
    yield from listed("Waits into which something fits", waits)
    yield from listed("Open endings", [said.ending(one) for one in facts.endings])
    decisions = [
        f"by {words.pet_named(one.by_pet_min)}: {what}; {follows}"
        for one, (what, follows) in ((one, said.decision(facts, one)) for one in facts.decisions) if one.kind != "give up"
    ]
    yield from listed("Decision points", decisions)


def _steps(facts: Brief) -> Table:
    table = Table(box=None, pad_edge=False, header_style="")
    for column in ("PET", "Lanes", "Step", "In the hands; what may go wrong"):
        table.add_column(column, overflow="fold", justify="right" if column == "PET" else "left")
    for step in facts.steps:
        more = [step.notes, *(said.contingency(facts, name) for name in step.contingencies), *said.endings_at(facts, step)]
        what = f"{step.task} {step.title}, {said.lengths(step.low_min, step.likely_min, step.high_min)}"
        table.add_row(words.pet(step.from_pet_min, "nearest"), " ".join(step.lanes), what, "; ".join(one for one in more if one))
    return table
