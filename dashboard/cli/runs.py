"""The commands over recorded runs: runs, import-log, simulate, score, learn. Heavy imports happen inside the commands."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from dashboard.core.base.problems import InputError, Problem, did_you_mean

if TYPE_CHECKING:
    from pandas import DataFrame

Folder = Annotated[Path, typer.Argument(metavar="FOLDER", help="A folder with recorded runs at or below it.")]
PlanOption = Annotated[Path, typer.Option("--plan", help="The plan file (TOML).")]
Json = Annotated[bool, typer.Option("--json", help="Print everything as JSON.")]
Setting = Annotated[
    str, typer.Option(help="Where the run was made: pool, mock-up, table-top, flight or simulated.")
]


def add_to(app: typer.Typer) -> None:
    """Add the commands to the program."""
    app.command()(runs)
    app.command("import-log")(import_log)
    app.command()(simulate)
    app.command()(score)
    app.command()(learn)


def runs(folder: Folder, as_json: Json = False) -> None:
    """List the recorded runs of a folder; those that cannot be read with the reason. Ends with 2 when none can."""
    from dashboard.cli.runs_text import print_json
    from dashboard.words import how_many
    from replay.listing import listing
    from replay.score import plain_rows

    found = listing(folder)
    good, broken = found[found["why"] == ""], found[found["why"] != ""]
    if as_json:
        print_json(plain_rows(found))
    else:
        _show_runs(good, broken)
    if good.empty:
        what = f"{how_many(len(broken), 'log')}, of which none can be; the reasons are listed"
        cure = "Name a log with its plan beside it, or the folder that holds such runs."
        raise InputError([Problem("library of runs", "a recorded run that can be read", what, cure, str(folder))])


def _show_runs(good: DataFrame, broken: DataFrame) -> None:
    from dashboard.cli.runs_text import show, table_of
    from dashboard.words import how_many

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
        ("By another plan, as it seems", strange),
        ("Not wholly understood", unread),
        ("Cannot be read", listed),
    ):
        if lines:
            show(f"{heading} ({len(lines)}):", *(f"  {line}" for line in lines))


def import_log(
    sheet: Annotated[
        Path, typer.Argument(metavar="SHEET", help="The log sheet (CSV or XLSX): time, who, what, free text.")
    ],
    plan: PlanOption,
    to: Annotated[Path, typer.Option("--to", help="Folder for the run; made when it is not there.")],
    setting: Setting = "",
    date: Annotated[
        str | None, typer.Option(help="Day of the run, such as 2031-03-02; the planned day by default.")
    ] = None,
    columns: Annotated[
        list[str] | None, typer.Option(help="Which column is which: time=...,who=...,what=...,text=...")
    ] = None,
    times: Annotated[
        str | None, typer.Option(help="What 1:50 means in the sheet: pet, or utc as a time of day.")
    ] = None,
    pet_zero: Annotated[
        str | None, typer.Option(help="Time of day (UTC) of PET zero, where no row gives it.")
    ] = None,
    match: Annotated[
        list[str] | None, typer.Option(help="Words of the sheet that mean a task or contingency: 'Unstow pmp=T010'.")
    ] = None,
    title: Annotated[str, typer.Option(help="What to call the run.")] = "",
    notes: Annotated[str, typer.Option(help="Anything else to keep with the run.")] = "",
) -> None:
    """Make a recorded run of a log kept in a spreadsheet. What does not match the plan is said and kept, never guessed."""
    from dashboard.cli.runs_text import import_report, show
    from dashboard.log.planfile import load_plan
    from dashboard.log.sheetlog import Reading, pairs_of, read_log_sheet
    from replay.header import checked_setting
    from replay.library import write_run

    if times is not None and times not in ("pet", "utc"):
        raise InputError(
            [Problem("option --times", "pet or utc", f"'{times}'", did_you_mean(times, ("pet", "utc")))]
        )
    found_plan = load_plan(plan)
    how = Reading(
        pairs_of("--columns", columns or []),
        "pet" if times == "pet" else "utc" if times == "utc" else None,
        _day(date),
        pet_zero,
        pairs_of("--match", match or []),
    )
    header = {"title": title, "setting": checked_setting(setting) if setting else "", "notes": notes}
    log = read_log_sheet(sheet, found_plan, how)
    header["date"] = date or log.events[0].at.date().isoformat()
    write_run(to, plan.read_text(encoding="utf-8"), log.events, header, log.unread)
    show(*import_report(log, found_plan, to))


def simulate(
    plan: Annotated[Path, typer.Argument(metavar="PLAN", help="The plan file (TOML).")],
    to: Annotated[Path, typer.Option("--to", help="Folder for the runs, one folder each.")],
    count: Annotated[int, typer.Option(min=1, max=10_000, help="How many runs.")] = 1,
    seed: Annotated[int, typer.Option(min=0, help="The same seed gives the same runs.")] = 1,
    pace: Annotated[float, typer.Option(help="Median factor on the briefed durations.")] = 1.0,
    spread: Annotated[float, typer.Option(help="Log-sd of the pace of a lane from run to run.")] = 0.10,
    correlation: Annotated[float, typer.Option(help="Between the paces of the lanes, 0 to 1.")] = 0.5,
    trouble: Annotated[
        list[str] | None,
        typer.Option(
            help="A trouble and how often in a run on average, such as hold=2; again for more. contingency, hold, late, "
            "amended, withdrawn, given-up, forgotten; all is one of each but the last, which leaves a log that does not fit."
        ),
    ] = None,
) -> None:
    """Make simulated runs of a plan, for practice and for trying things out. They are marked as simulated."""
    from dashboard.cli.runs_text import progress, show
    from dashboard.core.plan.model import Plan
    from dashboard.log.planfile import load_plan
    from dashboard.words import how_many
    from replay.outside import Conditions
    from replay.simulate import write_simulated

    found: Plan = load_plan(plan)
    try:
        conditions = Conditions(pace, spread, correlation, _troubles(trouble or []))
    except ValueError as wrong:
        expected, _, was = str(wrong).rpartition(", not ")
        raise InputError(
            [Problem("simulate", expected or str(wrong), was or "another", "See tetherline simulate --help.")]
        ) from None
    with progress("Simulating", count) as step:
        for _ in write_simulated(found, plan.read_text(encoding="utf-8"), to, count, seed, conditions):
            step()
    show(f"{how_many(count, 'simulated run')} of {found.sortie.id} in {to}. None of it happened; each header says so.")


def score(
    folder: Annotated[
        Path, typer.Argument(metavar="RUNS", help="A folder with recorded runs at or below it, or one log.")
    ],
    as_json: Json = False,
    plot: Annotated[
        Path | None, typer.Option(metavar="FILE.html", help="Write the figures as one HTML file.")
    ] = None,
    plan: Annotated[
        Path | None, typer.Option(help="The plan of all runs, when it is not beside each log.")
    ] = None,
    jobs: Annotated[int, typer.Option(min=1, max=256, help="Processes to work in.")] = 1,
    executor: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="A dask.distributed scheduler, such as tcp://10.0.0.5:8786."),
    ] = None,
) -> None:
    """Set what was projected at every moment of recorded runs against what happened."""
    from dashboard.cli.runs_text import executor_of, print_json, progress, read_runs, score_parts, show
    from replay.evidence import evidence
    from replay.library import load_all
    from replay.score import as_json as plain
    from replay.score import groups, score_all

    found, left_out = evidence(load_all(folder, plan))
    read_runs(found)
    with executor_of(jobs, executor) as pool, progress("Scoring", len(found)) as step:
        scores = score_all(found, pool, scored=lambda name: step())
    if plot is not None:
        from replay.score_page import write_page

        write_page(scores, plot, left_out)
    if as_json:
        print_json(plain(scores, left_out))
    else:
        show(*score_parts(scores, left_out))
    if not groups(scores):
        raise typer.Exit(2)


def learn(
    folder: Annotated[
        Path, typer.Argument(metavar="RUNS", help="A folder with recorded runs at or below it.")
    ],
    plan: PlanOption,
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="NEW.toml", help="Write a plan file with the learned durations."),
    ] = None,
    as_json: Json = False,
) -> None:
    """Learn durations from recorded runs: briefed against learned, and whether learning pays on runs not learned from."""
    from dashboard.cli.runs_text import learn_json, learn_parts, learned_from, new_plan, print_json, show

    result = learned_from(folder, plan)
    if to is not None and to.exists():
        raise InputError(
            [Problem("option --to", "a new file", "one that is there", "Choose another name.", str(to))]
        )
    if as_json:
        print_json(learn_json(result))
    else:
        show(*learn_parts(result))
    if to is not None:
        said: list[Any] = new_plan(result, plan, to)
        for line in said:
            print(line, file=sys.stderr if as_json else sys.stdout)


def _troubles(words: list[str]) -> dict[str, float]:
    """``hold=2`` and the like; a name alone is one a run, ``all`` is one of each that leaves a log that fits."""
    from replay.outside import TROUBLES
    from replay.simulate import ON_PURPOSE

    found: dict[str, float] = {}
    for part in (part.strip() for word in words for part in word.split(",")):
        name, equals, value = part.partition("=")
        try:
            mean = float(value) if equals else 1.0
        except ValueError:
            cure = "For instance --trouble hold=2"
            raise InputError([Problem(f"option --trouble, {name}", "a number", f"'{value}'", cure)]) from None
        if name != "all" and name not in TROUBLES:
            raise InputError(
                [
                    Problem(
                        "option --trouble",
                        f"one of {', '.join(TROUBLES)}",
                        f"'{name}'",
                        did_you_mean(name, TROUBLES),
                    )
                ]
            )
        found.update(
            dict.fromkeys((t for t in TROUBLES if t not in ON_PURPOSE), mean)
            if name == "all"
            else {name: mean}
        )
    return found


def _day(text: str | None) -> Any:
    from datetime import date

    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(
            [Problem("option --date", "a day such as 2031-03-02", f"'{text}'", "Correct it.")]
        ) from None
