"""The command `tetherline`: the list of its commands, and what happens when one of them ends badly.

The module of a command is loaded only when the command is asked for, so that `tetherline --help` answers at once. The list
therefore holds the help of each command once more; a test holds the two against each other.
"""

from __future__ import annotations

import os
import sys
from importlib import import_module
from typing import Annotated, Any

import typer
from typer.core import TyperGroup
from typer.main import get_command

from dashboard.core.base.problems import InputError

COMMANDS = {
    "demo": "Show the board on the invented run that comes with the program. Works offline.",
    "replay": "Show the board on a recorded run of your own. Moving its clock needs the log key, where there is one.",
    "runs": "List the recorded runs of a folder; those that cannot be read with the reason. Ends with 2 when none can.",
    "import-log": "Make a recorded run of a log kept in a spreadsheet. What does not match is said and kept, never guessed.",
    "simulate": "Make simulated runs of a plan, for practice and for trying things out. They are marked as simulated.",
    "score": "Set what was projected at every moment of recorded runs against what happened.",
    "learn": "Learn durations from recorded runs: briefed against learned, and whether learning pays on runs not learned from.",
    "serve": "Follow a sortie live: serve the board, take events, keep the log. With no keys everyone may decide.",
    "state": "Say how the sortie stands; at its last event when no time is given.",
    "advise": "Say what to give up so that the crew is in by the limit; at the last event when no time is given. Advisory only.",
    "suits": "Say what each suit has left, needs, and until when it lasts; at the last event when no time is given.",
    "debrief": "Debrief a sortie: as run against the brief, where the minutes went, what is carried over.",
    "check": "Check a plan: every problem with its place and its cure.",
    "keys": "Say who may enter events and decide: add, list and revoke keys of people. A running server follows the file.",
    "send": "Send events to a server and print what became of each. Ends with 2 when some were refused.",
    "backup": "Back up a store, whether or not a server has it open. A copy of a SQLite file alone may lack the newest events.",
    "restore": "Make a new store of a backup. A store that is there already is refused and left as it is.",
    "schema": "Print the JSON Schema of the state, of an event, or of the plan.",
}


class CommandsLoadedWhenAsked(TyperGroup):
    """The commands of `COMMANDS`, each in the module of its name."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self.commands = dict.fromkeys(COMMANDS)  # type: ignore[assignment]  # the names alone, for "did you mean"

    def list_commands(self, ctx: Any) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        return command_of(cmd_name) if cmd_name in COMMANDS else None

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


def command_of(name: str) -> Any:
    """The command of a name, as Typer made it of the function in its module."""
    return get_command(import_module(f"dashboard.cli.{name.replace('-', '_')}").app)


app = typer.Typer(
    name="tetherline",
    cls=CommandsLoadedWhenAsked,
    help="Follow a spacewalk sortie live against its plan. Advisory only; not certified for flight use.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


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
