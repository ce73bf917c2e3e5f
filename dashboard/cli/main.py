"""The command `tetherline`: the list of its commands, and the handling of errors.

The module of a command is loaded only when the command runs, so that `tetherline --help` is fast. Therefore the list repeats
the help of each command; a test checks that both are equal.
"""

from __future__ import annotations

import os
import sys
from importlib import import_module
from typing import Annotated, Any

import typer
from typer.core import TyperGroup
from typer.main import get_command

from dashboard.core.base.problems import InputError, Problem
from dashboard.core.base.wording import shortened
from dashboard.service.processes import collect_garbage_less_often, start_early

COMMANDS = {
    "demo": "Show the board on the invented run that comes with the program. Works offline.",
    "replay": "Show the board on a recorded run of your own. If the server has keys, moving its clock needs the log key.",
    "runs": "List the recorded runs of a folder, and why others cannot be read. The exit code is 2 when none can be read.",
    "campaign": "Show a set of sorties: what is planned, what was run, and which sortie takes what was left.",
    "compare": "Compare two recorded runs, or a run with its brief: ends, where the minutes went, tasks, what was left.",
    "import-log": "Make a recorded run from a log in a spreadsheet. Rows that do not match are reported and kept, never guessed.",
    "simulate": "Make simulated runs of a plan, for practice and for tests. They are marked as simulated.",
    "score": "Compare what was projected at every moment of recorded runs with what happened.",
    "learn": "Learn durations from recorded runs, compare them with the brief, and check them on runs that were left out.",
    "serve": "Follow a sortie live: serve the board, take events, keep the log. Without keys everyone may record decisions.",
    "state": "Print how the sortie stands; at its last event when no time is given.",
    "advise": "Print what to give up so that the crew is in by the limit; at the last event when no time is given. Advisory.",
    "suits": "Print what each suit has left, what it needs and how long it lasts; at the last event when no time is given.",
    "debrief": "Debrief a sortie: as run against the brief, where the minutes went, what is carried over.",
    "check": "Check a plan: every finding with its place, reason, consequence and cure, and how likely the brief is in time.",
    "bear": "Say what a plan can bear: late starts, lost time, the worst delay, turn-back times, and what certainty costs.",
    "new": "Start a plan from a sheet, a carry-over, a recorded run or a few questions, and check it.",
    "convert": "Convert a plan between TOML, CSV and XLSX by the endings, both ways without loss; .ics writes a calendar.",
    "explain": "Explain a word: of the plan, an event, a log sheet, a check, an alert, a call, or a figure of the state.",
    "brief": "Brief a plan: every step in words, and on paper with lane sheet, task sheet and cuff-size pages. Advisory.",
    "keys": "Add, list and revoke the keys of people who may enter events or decide. A running server follows the file.",
    "send": "Send events to a server and print the outcome of each. The exit code is 2 when some were refused.",
    "backup": "Back up a store, whether or not a server has it open. A copy of a SQLite file alone may lack the newest events.",
    "restore": "Make a new store from a backup. An existing store is refused and left as it is.",
    "doctor": "Say what is wrong with a server, or a plan and its store, and what to do. "
    "The exit code is 2 if there are problems.",
    "schema": "Print the JSON Schema of the state, of an event, of the plan, or of a brief.",
}

SERVING = ("demo", "replay", "serve")
HELP = ("-h", "--help")
MOST_OF_A_NAME = 120  # characters of a file name that an error shows


class CommandsLoadedWhenAsked(TyperGroup):
    """The commands of `COMMANDS`. Each is in the module of its name."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self.commands = dict.fromkeys(COMMANDS)  # type: ignore[assignment]  # only the names, for "did you mean"

    def list_commands(self, ctx: Any) -> list[str]:
        """List the names of the commands.

        Parameters
        ----------
        ctx
            The context of Click; not used.

        Returns
        -------
        list of str
            In the order of `COMMANDS`.
        """
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Load a command.

        Parameters
        ----------
        ctx
            The context of Click; not used.
        cmd_name
            Name of the command.

        Returns
        -------
        Any
            The command; None when there is none of this name.
        """
        return command_of(cmd_name) if cmd_name in COMMANDS else None

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the list of commands for the help, without loading the commands.

        Parameters
        ----------
        ctx
            The context of Click; not used.
        formatter
            Takes the list.
        """
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


def command_of(name: str) -> Any:
    """Load a command from the module of its name.

    Parameters
    ----------
    name
        A key of `COMMANDS`.

    Returns
    -------
    Any
        The command that Typer makes of it.
    """
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
        typer.Option("--version", callback=_say_version, is_eager=True, help="Show the version and exit."),
    ] = False,
) -> None:
    """Follow a spacewalk sortie live against its plan. Advisory only; not certified for flight use."""


def main() -> None:
    """Run the program. Bad input ends with exit code 2 and its problems on standard error, one per line."""
    _never_break_on_a_character()
    # The matrices are small, so threads of the linear algebra library cost more time than they save.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        collect_garbage_less_often()
        if sys.argv[1:2] and sys.argv[1] in SERVING and not set(HELP) & set(sys.argv):
            start_early()
        app(prog_name="tetherline")
    except InputError as wrong:
        for problem in wrong.problems:
            print(problem.text().replace("\n", " "), file=sys.stderr)
        sys.exit(2)
    except BrokenPipeError:
        # The reader of the output has gone. Without this, Python prints another error on exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
    except KeyboardInterrupt:
        sys.exit(130)
    except Exception as wrong:
        if os.environ.get("TETHERLINE_TRACEBACK"):
            raise
        if isinstance(wrong, OSError) and wrong.filename is not None:
            print(_of_the_system(wrong).text().replace("\n", " "), file=sys.stderr)
            sys.exit(2)
        print(
            f"tetherline failed: {type(wrong).__name__}: {wrong}. Please report this line and the command. "
            "Set TETHERLINE_TRACEBACK=1 in the environment to see where it failed.".replace("\n", " "),
            file=sys.stderr,
        )
        sys.exit(1)


def _of_the_system(wrong: OSError) -> Problem:
    """What the system said of a file, where nothing before has told it: a name that is too long, a full disk."""
    reason = wrong.strerror or type(wrong).__name__
    cure = "Check the path, the permissions and the disk."
    return Problem(f"file {shortened(str(wrong.filename), MOST_OF_A_NAME)}", "a file that can be used", f"'{reason}'", cure)


def _never_break_on_a_character() -> None:
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
