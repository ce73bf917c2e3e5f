"""The command as a whole: help, version, and what happens when something is wrong."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from dashboard.cli.main import COMMANDS, command_of
from tests.command import LOG, PLAN, assert_bad_input, tetherline, tetherline_process


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


@pytest.mark.parametrize("speed", ["0", "601", "fast"])
def test_a_speed_outside_the_range_is_refused(speed: str):
    """As the replay itself would."""
    assert tetherline("demo", "--speed", speed, "--no-browser").returncode == 2


def test_an_unexpected_error_is_one_line():
    """What to report, and how to see more; never a traceback by default."""
    code = (
        "import dashboard.log.planfile as planfile, sys\n"
        "def broken(path): raise KeyError('a gap')\n"
        "planfile.examine_plan = broken\n"
        "sys.argv = ['tetherline', 'check', 'plan.toml']\n"
        "from dashboard.cli.main import main\n"
        "main()\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 1
    assert len(done.stderr.splitlines()) == 1
    assert "KeyError" in done.stderr and "report" in done.stderr


@pytest.mark.parametrize(
    ("options", "has"), [([], "pet_min"), (["--plan"], "sortie"), (["--events"], "discriminator")]
)
def test_schema_prints_json_schema(options: list[str], has: str):
    """Of the state, the plan, an event."""
    schema = json.loads(tetherline("schema", *options).stdout)
    assert has in schema or has in schema["properties"]


def test_schema_of_two_things_at_once_is_refused():
    """One document is one schema."""
    assert_bad_input(tetherline("schema", "--plan", "--events"), "schema")


@pytest.mark.parametrize("arguments", [["replay"], ["replay", "--at", "9:00"]])
def test_a_run_that_cannot_be_replayed_is_refused(tmp_path: Path, arguments: list[str]):
    """Before any server starts: no log, several logs, a time outside the run."""
    (tmp_path / "plan.toml").write_text(PLAN, encoding="utf-8")
    if "--at" not in arguments:
        assert_bad_input(tetherline(*arguments, tmp_path, "--no-browser"), "run-*.jsonl")
    for number in range(1 if "--at" in arguments else 2):
        (tmp_path / f"run-{number}.jsonl").write_text(LOG, encoding="utf-8")
    assert_bad_input(
        tetherline(*arguments, tmp_path, "--no-browser"), "--at" if "--at" in arguments else "run-1.jsonl"
    )
