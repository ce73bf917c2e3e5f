"""The command `tetherline import-log`: makes a recorded run from a log in a spreadsheet."""

from __future__ import annotations

from datetime import date as day
from pathlib import Path
from typing import Annotated, Any

import typer

from dashboard import words
from dashboard.cli.options import PlanOption, single_command
from dashboard.cli.printing import show
from dashboard.core.base.problems import InputError, Problem, did_you_mean
from dashboard.core.plan.model import Plan
from dashboard.log.log_sheet import LogSheet, read_log_sheet
from dashboard.log.log_sheet_options import SheetOptions, pairs_of
from dashboard.log.log_sheet_words import NO_TASK
from dashboard.log.planfile import load_plan
from replay.header import checked_setting
from replay.library import write_run

Setting = Annotated[
    str, typer.Option(help="Where the run was made: pool, mock-up, table-top, flight or simulated.")
]

app = single_command()


@app.command("import-log")
def import_log(
    sheet: Annotated[
        Path, typer.Argument(metavar="SHEET", help="The log sheet (CSV or XLSX): time, who, what, free text.")
    ],
    plan: PlanOption,
    to: Annotated[Path, typer.Option("--to", help="Folder for the run; it is made if it does not exist.")],
    setting: Setting = "",
    date: Annotated[
        str | None, typer.Option(help="Day of the run, such as 2031-03-02; the planned day by default.")
    ] = None,
    columns: Annotated[
        list[str] | None, typer.Option(help="The columns of the sheet: time=...,who=...,what=...,text=...")
    ] = None,
    times: Annotated[
        str | None, typer.Option(help="What 1:50 means in the sheet: pet, or utc (a time of day).")
    ] = None,
    pet_zero: Annotated[
        str | None, typer.Option(help="Time of day (UTC) of PET zero, for a sheet in which no row gives it.")
    ] = None,
    match: Annotated[
        list[str] | None, typer.Option(help="Words of the sheet that mean a task or contingency: 'Unstow pmp=T010'.")
    ] = None,
    title: Annotated[str, typer.Option(help="Title of the run.")] = "",
    notes: Annotated[str, typer.Option(help="Anything else to keep with the run.")] = "",
) -> None:
    """Make a recorded run from a log in a spreadsheet. Rows that do not match are reported and kept, never guessed."""
    if times is not None and times not in ("pet", "utc"):
        raise InputError(
            [Problem("option --times", "pet or utc", f"'{times}'", did_you_mean(times, ("pet", "utc")))]
        )
    found_plan = load_plan(plan)
    options = SheetOptions(
        pairs_of("--columns", columns or []),
        "pet" if times == "pet" else "utc" if times == "utc" else None,
        _day(date),
        pet_zero,
        pairs_of("--match", match or []),
    )
    header = {"title": title, "setting": checked_setting(setting) if setting else "", "notes": notes}
    log = read_log_sheet(sheet, found_plan, options)
    header["date"] = date or log.events[0].at.date().isoformat()
    write_run(to, plan.read_text(encoding="utf-8"), log.events, header, log.unread)
    show(*_import_report(log, found_plan, to))


def _import_report(log: LogSheet, plan: Plan, to: Path) -> list[Any]:
    """The report of an import, as printable parts. `to` is the folder of the run."""
    work, unread = words.how_many(len(log.events) - log.notes, "event"), len(log.unread)
    left = [(len(log.unmatched), "not applied"), (unread, "not understood")]
    said = "; ".join(f"{words.how_many(count, 'row')} {how}" for count, how in left if count) or "every row was read"
    parts: list[Any] = [f"The run is in {to}: {work} and {words.how_many(log.notes, 'note')}; {said}.", *log.remarks]
    if log.unmatched:
        titles = {name: task.title for name, task in plan.all_tasks().items()}
        titles |= {one.id: one.title for one in plan.contingencies}
        parts += [f"Not applied, kept as notes ({len(log.unmatched)}):"]
        for one in log.unmatched:
            offered = ", ".join(f"{name} {titles[name]}".strip() for name in one.near)
            parts.append(f"  row {one.row}: '{one.words}': {one.why}.{f' Nearest: {offered}' if offered else ''}")
        near = next((one for one in log.unmatched if len(one.near) == 1 and one.why == NO_TASK), None)
        if near is not None:
            parts.append(f"To have such a row recognised, give for instance --match '{near.words}={near.near[0]}'")
    if log.unread:
        parts.append(f"Not understood, kept word for word ({len(log.unread)}):")
        parts += [f"  {line.where}: {line.why} | {line.line}" for line in log.unread]
    return parts


def _day(text: str | None) -> day | None:
    if text is None:
        return None
    try:
        return day.fromisoformat(text)
    except ValueError:
        raise InputError(
            [Problem("option --date", "a day such as 2031-03-02", f"'{text}'", "Correct the day.")]
        ) from None
