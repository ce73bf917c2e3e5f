"""The command `tetherline debrief`: the debrief of a sortie in words, as JSON, and as files in a folder."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.table import Table
from rich.text import Text

from dashboard import words
from dashboard.cli.asked import Asked, ask_log
from dashboard.cli.checked_plan import Checked, check_file
from dashboard.cli.options import At, LogFile, PlanFile, single_command
from dashboard.cli.printing import show
from dashboard.core.debrief.facts import Debrief
from dashboard.core.debrief.look_back import debrief
from dashboard.core.outlook.verdict import verdict_of
from dashboard.core.plan.model import Plan
from dashboard.log.limits import PLAN_FILE_MB
from dashboard.log.planfile import WHAT
from dashboard.log.textfile import read_text
from dashboard.reports.debrief_document import later
from dashboard.reports.folder import ready
from dashboard.reports.ledger_words import about, signed
from dashboard.service.version import program_version
from replay.header import read_header
from replay.recording import header_path, logs_in, recorded

LARGEST_SHOWN = 4


app = single_command()


@app.command("debrief")
def debrief_sortie(
    plan: PlanFile,
    log: LogFile,
    to: Annotated[
        Path | None, typer.Option("--to", metavar="FOLDER", help="Write page, PDF, tables and carry-over to this folder.")
    ] = None,
    at: At = None,
    force: Annotated[bool, typer.Option("--force", help="Overwrite an existing debrief.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the facts as JSON.")] = False,
) -> None:
    """Debrief a sortie: as run against the brief, where the minutes went, what is carried over."""
    asked = ask_log(plan, log, at)
    if to is not None:
        ready(to, force)
    rehearsal, setting = _header(asked, plan, log)
    facts = debrief(
        asked.plan, asked.events, asked.now, unread=asked.unread, rehearsal=rehearsal, setting=setting, progress=_progress
    )
    written: list[str] = []
    if to is not None:
        written = _write(facts, asked.plan, plan, to)
    if as_json:
        print(facts.model_dump_json(indent=2))
        return
    show(*_summary(facts), *written, "", facts.caution)


def _header(asked: Asked, plan_path: Path, log_path: Path) -> tuple[str, str]:
    """Say which recorded run the log rehearses, and its setting, by the header beside it; empty where it does not say so."""
    header = header_path(log_path)
    if not asked.events or log_path not in logs_in(log_path.parent) or header == plan_path:
        return "", ""
    run = recorded(asked.plan, asked.events, asked.unread, read_header(header))
    return run.rehearsal, run.setting


def _progress(what: str, done: int, of: int) -> None:
    """Print a line on standard error at every quarter of the work."""
    if done == of or (of >= 8 and done % (of // 4) == 0):
        print(f"computing {what}: {done} of {of}", file=sys.stderr, flush=True)


def _write(facts: Debrief, plan: Plan, plan_path: Path, to: Path) -> list[str]:
    from dashboard.reports.folder import CARRY_OVER, debrief_files, write_files

    text = read_text(plan_path, WHAT, PLAN_FILE_MB)
    made_at = datetime.now(UTC)
    files = debrief_files(
        facts, plan, text, made_at, program_version(), lambda what: print(f"making {what}", file=sys.stderr, flush=True)
    )
    write_files(to, files)
    said = ["", f"Written to {to}: {', '.join(name for name in files if '/' not in name)}, and tables as CSV."]
    if CARRY_OVER not in files:
        return [*said, "Nothing is left for the next sortie, so there is no carry-over."]
    return [*said, *_soundness(check_file(to / CARRY_OVER))]


def _soundness(checked: Checked) -> list[str]:
    """Say whether the carry-over passes `tetherline check`, and list its findings; empty when there are none."""
    if not checked.problems:
        return []
    said = "cannot be followed yet" if checked.briefed is None else verdict_of(checked.briefed, checked.problems)
    listed = [f"  {problem.severity}: {problem.text()}" for problem in checked.problems]
    return [f"The carry-over, as a plan, {said} ({checked.counted()}):", *listed]


def _summary(facts: Debrief) -> Iterator[Any]:
    """The debrief as printable parts, in reading order."""
    title = f"{facts.title} ({facts.sortie})" if facts.title else facts.sortie
    yield Text(title)
    if facts.rehearsal:
        yield Text(f"{facts.rehearsal}.")
    yield Text(f"Debrief so far, as of {words.pet_named(facts.pet_min)}" if facts.so_far else "Debrief")
    end = facts.end
    towards: words.Towards = "up" if facts.so_far else "nearest"
    how = "Projected end" if facts.so_far else "End"
    briefed = words.pet_named(end.briefed_pet_min, "nearest")
    yield Text(f"{how}: {words.pet_named(end.pet_min, towards)}, briefed {briefed}: {later(end.difference_min)}.")
    yield Text("")
    yield _minutes(facts)
    yield Text("")
    yield Text(
        f"Decisions: {len(facts.decisions)}. Discrepancies: {len(facts.discrepancies)}. Unread lines: {len(facts.unread)}."
    )
    yield Text(f"Carry-over{' so far' if facts.so_far else ''}: {_left(facts)}")


def _minutes(facts: Debrief) -> Table:
    """A table with the difference of each lane, and the largest lines of its ledger."""
    titles = {row.task: row.title for lane in facts.lanes.values() for row in lane.tasks}
    table = Table(box=None, pad_edge=False, header_style="")
    for column in ("Lane", "End against the brief", "Min", "Where the minutes went (largest)"):
        table.add_column(column, overflow="fold", justify="right" if column == "Min" else "left")
    for name, lane in facts.lanes.items():
        lines = [(signed(line.minutes), about(line, titles)) for line in lane.ledger[:LARGEST_SHOWN]]
        for place, (minutes, what) in enumerate(lines or [("", "nothing to compare")]):
            first = (name, later(lane.difference_min)) if place == 0 else ("", "")
            table.add_row(*first, minutes, what)
    return table


def _left(facts: Debrief) -> str:
    left = [f"{one.task} {one.title} ({one.because}, {words.duration(one.remaining_min, 'up')})" for one in facts.carry_over]
    return "; ".join(left) + "." if left else "nothing."
