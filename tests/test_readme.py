"""The README shows what the program prints, and every command in it runs.

`python -m tests.test_readme` writes the printed output into the README again, when the program says something new on purpose.
"""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from openpyxl import Workbook

from dashboard.cli.main import COMMANDS, command_of
from dashboard.core.base.times import parse_instant
from dashboard.core.events.event import Event
from dashboard.core.events.kinds import KINDS
from dashboard.core.state.alerts import CALL, RULES, called_to_decide
from dashboard.log.store import EventStore
from dashboard.service.access.key_file import add_key
from tests.command import tetherline

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
DEMO = ROOT / "replay" / "scenarios" / "lantern-2"
LEFT_OUT = "..."
FIRST_LINES = 34  # of each output, as the README shows it
SERVES = ("demo", "serve", "replay")


def shown() -> list[tuple[str, str]]:
    """Each command of a console block, and the output that stands below it."""
    return re.findall(r"```console\n\$ tetherline (.+)\n((?:.*\n)*?)```", README.read_text(encoding="utf-8"))


def printed(command: str) -> str:
    """What the command prints, its first lines and its last."""
    done = tetherline(*(ROOT / word if word.startswith("replay/") else word for word in shlex.split(command)))
    lines = [line.rstrip() for line in done.stdout.splitlines()]
    if len(lines) > FIRST_LINES:
        lines = [*lines[:FIRST_LINES], LEFT_OUT, *lines[-2:]]
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize(("command", "output"), shown())
def test_the_readme_shows_what_the_command_prints(command: str, output: str) -> None:
    """The output in the README is that of the program as it is now."""
    assert output == printed(command)


def test_state_and_advice_are_shown() -> None:
    """A reader sees the two answers that matter most before installing anything."""
    assert {command.split()[0] for command, _ in shown()} >= {"state", "advise"}


def commands() -> list[str]:
    """Every line of the section on use that calls the program."""
    section = README.read_text(encoding="utf-8").partition("## Use it")[2].partition("\n## ")[0]
    return re.findall(r"^tetherline (.+?)(?: +#.*)?$", section, re.MULTILINE)


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that holds what the commands of the README name."""
    log = DEMO / "run-2031-03-02.jsonl"
    shutil.copy(DEMO / "plan.toml", tmp_path / "plan.toml")
    shutil.copy(log, tmp_path / "log.jsonl")
    shutil.copytree(DEMO, tmp_path / "run-folder")
    shutil.copytree(DEMO, tmp_path / "library" / "first")
    book = Workbook()
    for row in (("PET", "who", "what"), ("0:05", "EV1", "T010 start"), ("0:20", "EV1", "T010 done")):
        book.active.append(row)
    book.save(tmp_path / "log.xlsx")
    kept = EventStore(f"sqlite:///{tmp_path / 'plan.log.sqlite'}", "lantern-2")
    kept.append(log.read_text(encoding="utf-8").splitlines(), parse_instant("2031-04-12T09:20:00Z"))
    kept.save_to(tmp_path / "saved.jsonl")
    kept.close()
    add_key(tmp_path / "keys.toml", "A. Person", "log")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@contextmanager
def serving(*arguments: str) -> Iterator[str]:
    """A command that serves, in a process of its own; gives the address of its board."""
    process = subprocess.Popen(
        [sys.executable, "-m", "dashboard.cli", *arguments, "--port", "0", "--no-browser"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )
    try:
        assert process.stdout is not None and process.stderr is not None
        address = next((found[0] for line in process.stdout if (found := re.search(r"http://\S+", line))), None)
        assert address, process.stderr.read()
        yield address
    finally:
        process.kill()
        process.communicate()


@pytest.mark.parametrize("command", commands())
def test_every_command_of_the_readme_runs(command: str, desk: Path) -> None:
    """As it stands there, on a folder that holds what it names; a server is started and asked nothing but to come up."""
    words = shlex.split(command)
    if words[0] in SERVES:
        with serving(*words) as address:
            assert address.startswith("http://127.0.0.1:")
    elif words[0] == "send":
        with serving("serve", "plan.toml") as address:
            done = tetherline(*words, "--to", address)
            # The log of the demo holds one line that is cut off: that one is refused, with the reason.
            assert done.returncode == (2 if "log.jsonl" in words else 0), done.stdout + done.stderr
            assert "recorded" in done.stdout
    else:
        done = tetherline(*words)
        assert done.returncode == 0, done.stdout + done.stderr
        assert done.stdout.strip()


def reference() -> dict[str, str]:
    """The tables of the README that follow from the program: event kinds, alerts, and the options of each command."""
    common = set(Event.model_fields)
    kinds = ["| kind | fields | meaning |", "| --- | --- | --- |"]
    for kind, cls in KINDS.items():
        fields = [name if one.is_required() else f"{name}?" for name, one in cls.model_fields.items() if name not in common]
        kinds.append(f"| `{kind}` | {', '.join(fields)} | {first_line(cls)} |")
    alerts = ["| alert | raised when |", "| --- | --- |"]
    alerts += [f"| `{name}` | {first_line(rule)} |" for name, rule in {**RULES, CALL: called_to_decide}.items()]
    options = ["| command | options |", "| --- | --- |"]
    for name in COMMANDS:
        command = command_of(name)
        parts = getattr(command, "commands", None)
        for called, one in [(f"{name} {part}", one) for part, one in parts.items()] if parts else [(name, command)]:
            given = [option.opts[0] for option in one.params if option.opts[0].startswith("--")]
            options.append(f"| `{called}` | {' '.join(f'`{one}`' for one in given if one != '--help')} |")
    return {"events": "\n".join(kinds), "alerts": "\n".join(alerts), "options": "\n".join(options)}


def first_line(thing: object) -> str:
    """The first sentence of a docstring, on one line."""
    return " ".join((thing.__doc__ or "").split("\n\n")[0].split())


def marked(name: str) -> tuple[str, str]:
    """The marks around a table of the README."""
    return f"<!-- {name}: written by python -m tests.test_readme -->\n", f"\n<!-- end of {name} -->"


@pytest.mark.parametrize("name", ["events", "alerts", "options"])
def test_the_reference_in_the_readme_is_that_of_the_program(name: str) -> None:
    """Every kind of event, alert, command and option stands there, in the words of the program."""
    begin, end = marked(name)
    assert README.read_text(encoding="utf-8").partition(begin)[2].partition(end)[0] == reference()[name]


def write() -> None:
    """Write the output of each command, and the reference, into the README."""
    text = README.read_text(encoding="utf-8")
    for name, table in reference().items():
        begin, end = marked(name)
        before, _, rest = text.partition(begin)
        text = f"{before}{begin}{table}{end}{rest.partition(end)[2]}"
    for command, output in shown():
        head = f"```console\n$ tetherline {command}\n"
        text = text.replace(f"{head}{output}```", f"{head}{printed(command)}```")
    README.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    write()
