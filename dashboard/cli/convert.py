"""The command `tetherline convert`: a plan between TOML, CSV and XLSX by the endings, and out to a calendar."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any, NamedTuple

import typer

from dashboard.cli.options import Json, single_command
from dashboard.cli.printing import print_json, show
from dashboard.cli.sheet_report import Columns, LeaveOut, SheetName, report_of_sheet, sheet_json
from dashboard.core.plan.model import Plan
from dashboard.log import plan_calendar
from dashboard.log.log_sheet_options import pairs_of
from dashboard.log.plan_files import (
    CSV,
    ENDINGS,
    TOML,
    PlanRead,
    Written,
    is_whole_workbook,
    read_plan_from,
    rest_beside,
    write_plan_to,
)
from dashboard.log.plan_sheet import HowToRead
from dashboard.log.textfile import read_text, refusal, wrong_ending
from dashboard.log.whole_file import write_whole
from dashboard.words import how_many

TARGETS = (*ENDINGS, plan_calendar.ENDING)

app = single_command()


class NotHeld(NamedTuple):
    """Something of a plan that the new file does not hold, and where it is still found or what to do."""

    what: str
    why: str


@app.command()
def convert(
    source: Annotated[Path, typer.Argument(metavar="A", help="The plan as it is: .toml, .csv or .xlsx.")],
    target: Annotated[Path, typer.Argument(metavar="B", help="The file to write: .toml, .csv, .xlsx, or .ics for a calendar.")],
    rest: Annotated[
        Path | None, typer.Option("--with", metavar="PLAN", help="A plan file with the other tables, for a sheet of tasks only.")
    ] = None,
    columns: Columns = None,
    leave_out: LeaveOut = None,
    sheet: SheetName = "",
    force: Annotated[bool, typer.Option("--force", help="Replace an existing file; a TOML file keeps its comments.")] = False,
    as_json: Json = False,
) -> None:
    """Convert a plan between TOML, CSV and XLSX by the endings, both ways without loss; .ics writes a calendar."""
    _check_names(source, target, force)
    if rest is None and target.suffix.lower() == TOML and target.is_file() and not _has_the_rest(source):
        rest = target  # the tasks of the sheet go into the plan that is there
    read = read_plan_from(source, rest, HowToRead(pairs_of("--columns", columns or []), leave_out or (), sheet))
    written, not_held = _write(read, target)
    if as_json:
        print_json(_as_json(read, written, not_held))
    else:
        show(*report_of_sheet(read.sheet), *_report(read, written, not_held))


def _check_names(source: Path, target: Path, force: bool) -> None:
    if source.suffix.lower() == plan_calendar.ENDING:
        raise refusal(source, "a plan: TOML, CSV or XLSX", "a calendar, which is only written",
                      "Give the plan that the calendar was made of.")
    if target.suffix.lower() not in TARGETS:
        raise wrong_ending(target, TARGETS, "Choose one of these endings.")
    if source.suffix.lower() == target.suffix.lower():
        raise refusal(target, "another ending than that of the plan that is read", f"'{target.suffix}' both times",
                      "Copy the file, or give another ending.")
    beside = [rest_beside(target)] if target.suffix.lower() == CSV else []
    for path in (target, *beside):
        if path.exists() and not force:
            raise refusal(path, "a file that is not there yet", "one that exists", "Give another name, or --force to replace it.")


def _has_the_rest(source: Path) -> bool:
    """Whether a sheet comes with the other tables: CSV with the file beside it, a workbook with its sheet `sortie`."""
    return rest_beside(source).is_file() if source.suffix.lower() == CSV else is_whole_workbook(source)


def _write(read: PlanRead, target: Path) -> tuple[Written, list[NotHeld]]:
    ending = target.suffix.lower()
    if ending == plan_calendar.ENDING:
        try:
            write_whole(target, plan_calendar.plan_to_calendar(read.plan, datetime.now(UTC)))
        except OSError as wrong:
            raise refusal(target, "a place to write the calendar", str(wrong.strerror), "Choose another folder.") from None
        return Written([target]), _not_in_calendar(read.plan)
    if ending == TOML:
        text = read_text(target, "a plan file (TOML)", 5.0) if target.is_file() else read.text
        written = write_plan_to(target, read.plan, text)
        return written, _gone(written, "they stood in entries that are no longer in the plan, or could not be kept")
    written = write_plan_to(target, read.plan, source_text=read.text)
    return written, _gone(
        written, "a sheet does not hold them. Converting back onto the same TOML file, with --force, keeps them"
    )


def _gone(written: Written, why: str) -> list[NotHeld]:
    return [NotHeld(how_many(written.comments_gone, "comment"), why)] if written.comments_gone else []


def _not_in_calendar(plan: Plan) -> list[NotHeld]:
    without = [task.id for task in plan.tasks if task not in plan_calendar.entries(plan)]
    steps = [task.id for one in plan.contingencies for task in one.tasks]
    found = [NotHeld(f"no entry for {', '.join(without)}", "they have no briefed start")] if without else []
    found += [NotHeld(f"no entry for {', '.join(steps)}", "steps of contingencies have no briefed time")] if steps else []
    return [*found, NotHeld("suits, windows, links and everything else", "a calendar has times, lanes, worksites and words only")]


# --- the report -----------------------------------------------------------------------------------


def _report(read: PlanRead, written: Written, not_held: list[NotHeld]) -> list[str]:
    parts = [f"Written: {' and '.join(map(str, written.files))}."]
    if len(written.files) > 1:
        parts.append(f"{written.files[1].name} holds the sortie, lanes, suits and the other tables: keep it beside the CSV.")
    parts += [f"Not in it: {one.what}: {one.why}." for one in not_held]
    if read.findings:
        errors = sum(one.severity == "error" for one in read.findings)
        parts.append(
            f"The check of the plan finds {how_many(len(read.findings), 'thing')} to look at "
            f"({how_many(errors, 'error')}); tetherline check names them."
        )
    return parts


def _as_json(read: PlanRead, written: Written, not_held: list[NotHeld]) -> dict[str, Any]:
    return {
        "read": [str(path) for path in read.sources],
        "sheet": None if read.sheet is None else sheet_json(read.sheet),
        "written": [str(path) for path in written.files],
        "not_held": [one._asdict() for one in not_held],
        "findings": [{"severity": one.severity, **one.as_dict()} for one in read.findings],
    }
