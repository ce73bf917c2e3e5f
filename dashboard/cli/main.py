"""The command `tetherline`: thin commands over the rest. Heavy imports happen inside the commands."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from dashboard.cli import runs
from dashboard.core.base.problems import InputError, Problem

app = typer.Typer(
    name="tetherline",
    help="Follow a spacewalk sortie live against its plan. Advisory only; not certified for flight use.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

Host = Annotated[str, typer.Option(help="Address to serve on; the default serves this computer only.")]
Port = Annotated[int, typer.Option(min=0, max=65535, help="Port to serve on; 0 takes a free one.")]
Speed = Annotated[float, typer.Option(min=1, max=600, help="Sortie seconds in one real second.")]
At = Annotated[
    str | None,
    typer.Option(help="Time of the sortie: a PET such as 2:05, or an instant such as 2031-04-12T11:15:00Z."),
]
LogKey = Annotated[
    str | None,
    typer.Option(envvar="TETHERLINE_LOG_KEY", show_envvar=True, help="Key that entering events needs."),
]
LeadKey = Annotated[
    str | None,
    typer.Option(envvar="TETHERLINE_LEAD_KEY", show_envvar=True, help="Key that recording decisions needs."),
]
NoBrowser = Annotated[bool, typer.Option("--no-browser", help="Do not open the browser.")]
PlanFile = Annotated[Path, typer.Argument(metavar="PLAN", help="The plan file (TOML).")]


def _say_version(wanted: bool) -> None:
    if wanted:
        from dashboard.service.version import program_version

        print(f"tetherline {program_version()}")
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_say_version, is_eager=True, help="Show the version and end."),
    ] = False,
) -> None:
    """Follow a spacewalk sortie live against its plan. Advisory only; not certified for flight use."""


@app.command()
def demo(
    host: Host = "127.0.0.1",
    port: Port = 8050,
    speed: Speed = 60.0,
    at: At = None,
    no_browser: NoBrowser = False,
) -> None:
    """Show the board on the invented run that comes with the program. Works offline."""
    from dashboard.cli import board
    from replay.recording import load_run

    run = load_run(board.demo_log())
    board.show_run(run, host, port, speed, at, browser=not no_browser, invented=True)


@app.command()
def replay(
    run: Annotated[
        Path, typer.Argument(metavar="RUN", help="The run: its log, or the folder with its plan and log.")
    ],
    plan: Annotated[
        Path | None, typer.Option(help="The plan, when it is not plan.toml beside the log.")
    ] = None,
    host: Host = "127.0.0.1",
    port: Port = 8050,
    speed: Speed = 60.0,
    at: At = None,
    log_key: LogKey = None,
    lead_key: LeadKey = None,
    no_browser: NoBrowser = False,
    as_it_was: Annotated[
        bool, typer.Option("--as-it-was", help="As it really was, not as the room came to know it.")
    ] = False,
    rehearse: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="From --at on with decisions of your own; the branch is kept in this folder."),
    ] = None,
) -> None:
    """Show the board on a recorded run of your own. Moving its clock needs the log key, where there is one."""
    from dashboard.cli import board
    from dashboard.service.roles import Keys
    from replay import recording

    recorded = recording.load_run(run, plan)
    shown = recording.as_it_was(recorded) if as_it_was else recorded
    keys = Keys(log_key, lead_key)
    board.show_run(shown, host, port, speed, at, browser=not no_browser, rehearse=rehearse, keys=keys)


runs.add_to(app)


@app.command()
def serve(
    plan: PlanFile,
    store: Annotated[
        str | None,
        typer.Option(help="Where the log is kept, as a database URL; the default is a file beside the plan."),
    ] = None,
    host: Host = "127.0.0.1",
    port: Port = 8050,
    log_key: LogKey = None,
    lead_key: LeadKey = None,
    no_browser: NoBrowser = False,
) -> None:
    """Follow a sortie live: serve the board, take events, keep the log. With no keys everyone may decide."""
    from dashboard.cli import board
    from dashboard.service.roles import Keys

    board.serve_live(plan, store, host, port, Keys(log_key, lead_key), browser=not no_browser)


@app.command()
def state(
    plan: PlanFile,
    log: Annotated[Path, typer.Argument(metavar="LOG", help="The log file (JSON Lines or CSV).")],
    at: At = None,
    as_json: Annotated[bool, typer.Option("--json", help="The whole state as JSON.")] = False,
) -> None:
    """Say how the sortie stands; at its last event when no time is given."""
    from dashboard.cli.state import print_state

    print_state(plan, log, at, as_json)


@app.command()
def advise(
    plan: PlanFile,
    log: Annotated[Path, typer.Argument(metavar="LOG", help="The event log (JSON Lines or CSV).")],
    at: At = None,
    confidence: Annotated[
        float | None, typer.Option(help="Wanted probability of being in by the limit; the plan's by default.")
    ] = None,
    basis: Annotated[str, typer.Option(help="expected, or plan-pace: on likely durations alone.")] = "expected",
    resequence: Annotated[bool, typer.Option("--resequence", help="Free the order within the lanes.")] = False,
    keep: Annotated[list[str] | None, typer.Option(help="Tasks to keep whole.")] = None,
    give_up: Annotated[list[str] | None, typer.Option(help="Tasks to give up in any case.")] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the advice as JSON.")] = False,
) -> None:
    """Say what to give up so that the crew is in by the limit; at the last event when no time is given. Advisory only."""
    from dashboard.cli import advise

    advise.print_advice(
        plan, log, at, confidence=confidence, basis=basis, resequence=resequence, keep=keep or [],
        give_up=give_up or [], as_json=json,
    )


@app.command()
def suits(
    plan: PlanFile,
    log: Annotated[Path, typer.Argument(metavar="LOG", help="The event log (JSON Lines or CSV).")],
    at: At = None,
    as_json: Annotated[bool, typer.Option("--json", help="The suits of the state as JSON.")] = False,
) -> None:
    """Say what each suit has left, needs, and until when it lasts; at the last event when no time is given."""
    from dashboard.cli import suits

    suits.print_suits(plan, log, at, as_json)


@app.command()
def debrief(
    plan: PlanFile,
    log: Annotated[Path, typer.Argument(metavar="LOG", help="The event log (JSON Lines or CSV).")],
    to: Annotated[
        Path | None, typer.Option("--to", metavar="FOLDER", help="Write page, paper, tables and carry-over here.")
    ] = None,
    at: At = None,
    force: Annotated[bool, typer.Option("--force", help="Overwrite a debrief that is there.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the facts as JSON.")] = False,
) -> None:
    """Debrief a sortie: as run against the brief, where the minutes went, what is carried over; so far if it has not ended."""
    from dashboard.cli import debrief

    debrief.debrief_sortie(plan, log, at, to, force=force, as_json=as_json)


@app.command()
def check(
    plan: PlanFile,
    strict: Annotated[bool, typer.Option("--strict", help="Take warnings as errors.")] = False,
) -> None:
    """Check a plan: every problem with its place and its cure."""
    from dashboard.log.planfile import examine_plan
    from dashboard.words import how_many

    found, problems = examine_plan(plan)
    for problem in problems:
        print(f"{problem.severity}: {problem.text()}")
    errors = sum(problem.severity == "error" for problem in problems)
    if found is None or errors or (strict and problems):
        raise typer.Exit(2)
    lanes, tasks = how_many(len(found.lanes), "lane"), how_many(len(found.tasks), "task")
    ending = f" {how_many(len(problems), 'warning')} above." if problems else ""
    print(f"The plan of sortie {found.sortie.id} can be used: {lanes}, {tasks}.{ending}")


@app.command()
def send(
    file: Annotated[
        str | None,
        typer.Argument(metavar="FILE", help="Events as JSON Lines; - is standard input, as it comes."),
    ] = None,
    event: Annotated[str | None, typer.Option("--event", help="One event as a JSON object.")] = None,
    to: Annotated[str, typer.Option("--to", help="Address of the server.")] = "http://127.0.0.1:8050",
    tries: Annotated[
        int, typer.Option(min=1, max=20, help="How often to try when the connection is lost.")
    ] = 5,
    key: Annotated[
        str | None,
        typer.Option(envvar="TETHERLINE_KEY", show_envvar=True, help="Key of your role, where the server has keys."),
    ] = None,
) -> None:
    """Send events to a server and print what became of each. Ends with 2 when some were refused."""
    from dashboard.cli.send import send_events

    if (file is None) == (event is None):
        found = "both" if event is not None else "neither"
        cure = 'For instance: tetherline send --event \'{"kind": "note", "text": "Radio check"}\''
        raise InputError([Problem("send", "one of FILE and --event", found, cure)])
    if send_events(to, file, event, tries, key):
        raise typer.Exit(2)


@app.command()
def schema(
    events: Annotated[bool, typer.Option("--events", help="Of one event of the log.")] = False,
    plan: Annotated[bool, typer.Option("--plan", help="Of the plan file.")] = False,
) -> None:
    """Print the JSON Schema of the state, of an event, or of the plan."""
    import json

    from dashboard.service.schemas import json_schema

    if events and plan:
        raise InputError([Problem("schema", "one of --events and --plan", "both", "Give one.")])
    print(json.dumps(json_schema("events" if events else "plan" if plan else "state"), indent=2))


def main() -> None:
    """Run the command. Bad input ends with 2 and its problems, one a line, on standard error."""
    _never_break_on_a_character()
    # Our matrices are small: threads of the linear algebra library cost more than they bring.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        app(prog_name="tetherline")
    except InputError as wrong:
        for problem in wrong.problems:
            print(problem.text().replace("\n", " "), file=sys.stderr)
        sys.exit(2)
    except BrokenPipeError:
        # The reader of the output has gone; Python would complain once more while closing it.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
    except KeyboardInterrupt:
        sys.exit(130)
    except Exception as wrong:
        if os.environ.get("TETHERLINE_TRACEBACK"):
            raise
        print(
            f"tetherline failed: {type(wrong).__name__}: {wrong}. Please report this line and the command; "
            "with TETHERLINE_TRACEBACK=1 in the environment it says where.".replace("\n", " "),
            file=sys.stderr,
        )
        sys.exit(1)


def _never_break_on_a_character() -> None:
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
