"""The command as a whole: help, version, and what happens when something is wrong."""

from __future__ import annotations

import subprocess
import sys

import pytest

from dashboard.cli.main import COMMANDS, command_of
from tests.command import (
    assert_bad_input,
    tetherline,
    tetherline_process,
)


def test_help_lists_every_command():
    """And says that the program is advisory."""
    done = tetherline_process("--help")
    assert (done.returncode, done.stderr) == (0, "")
    assert "not" in done.stdout and "certified for flight use" in " ".join(done.stdout.split())
    for command in COMMANDS:
        assert f"\n  {command} " in done.stdout


@pytest.mark.parametrize("command", COMMANDS)
def test_the_list_of_commands_says_what_each_command_says_of_itself(command: str):
    """The help in the list is the help of the command."""
    assert command_of(command).help == COMMANDS[command]


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_its_help(command: str):
    """With a sentence on what it does."""
    done = tetherline(command, "--help")
    assert done.returncode == 0
    assert done.stdout.startswith(f"Usage: tetherline {command}")


def test_help_loads_no_heavy_library():
    """The command line answers at once: what is heavy loads inside the commands."""
    code = (
        "import sys; sys.argv = ['tetherline', '--help']\n"
        "from dashboard.cli.main import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "heavy = {'dash', 'pandas', 'pydantic', 'fastapi', 'uvicorn', 'ortools', 'numpy', 'sqlalchemy'}\n"
        "print('HEAVY', sorted(heavy & set(sys.modules)))\n"
    )
    printed = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert printed.splitlines()[-1] == "HEAVY []"


def test_version():
    """One line."""
    done = tetherline_process("--version")
    assert done.returncode == 0
    assert done.stdout.startswith("tetherline ")


@pytest.mark.parametrize(
    "arguments", [["nope"], ["state"], ["check", "a", "b"], ["demo", "--port", "x"], ["--nope"]]
)
def test_a_wrong_command_line_ends_with_2(arguments: list[str]):
    """With the usage, and no traceback."""
    done = tetherline(*arguments)
    assert done.returncode == 2
    assert "Usage" in done.stderr and "Traceback" not in done.stderr


def test_an_unexpected_error_is_one_line():
    """What to report, and how to see more; never a traceback by default."""
    code = (
        "import dashboard.log.planfile as planfile, sys\n"
        "def broken(path): raise KeyError('a gap')\n"
        "planfile.examine = broken\n"
        "sys.argv = ['tetherline', 'check', 'plan.toml']\n"
        "from dashboard.cli.main import main\n"
        "main()\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 1
    assert len(done.stderr.splitlines()) == 1
    assert "KeyError" in done.stderr and "report" in done.stderr


def test_what_the_system_says_of_a_file_is_bad_input():
    """A name that no file system takes: the file and the reason, and no word of a fault of the program."""
    done = tetherline("check", f"{'x' * 300}.toml")
    assert_bad_input(done, "expected a file that can be used", "File name too long", "Check the path")
    assert "tetherline failed" not in done.stderr and len(done.stderr) < 300
