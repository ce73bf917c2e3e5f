"""The README shows what the program prints, and every command in it runs.

`python -m tests.test_readme` writes the printed output into the README again, when the program says something new on purpose.
"""

from __future__ import annotations

import re
import shlex
import shutil
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
from tests.command import LOG, PLAN, tetherline, written
from tests.scenario import task
from tests.serving import served_here

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
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


SORTIE_PLAN = PLAN.replace("duration = 90", "duration = 180") + task("T050", "EV1", 250, 40, title="Photo survey")
RUN = (
    LOG
    + """\
{"id": "e6", "at": "2031-04-12T10:12:00Z", "kind": "done", "task": "T030"}
{"id": "e7", "at": "2031-04-12T10:15:00Z", "kind": "done", "task": "T020"}
{"id": "e8", "at": "2031-04-12T10:16:00Z", "kind": "start", "task": "T040"}
{"id": "e9", "at": "2031-04-12T13:25:00Z", "kind": "done", "task": "T040"}
{"id": "e10", "at": "2031-04-12T13:26:00Z", "kind": "defer", "tasks": ["T050"]}
{"id": "e11", "at": "2031-04-12T13:30:00Z", "kind": "end"}
{"id": "e12", "at": "2031-04-12T13:3
"""
)
HEADER = 'title = "Pool run"\nsetting = "pool"\ndate = 2031-03-02\n'


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that holds what the commands of the README name: a small sortie, which each command is quick with."""
    folder = tmp_path_factory.mktemp("readme")
    written(folder, "plan.toml", SORTIE_PLAN)
    written(folder, "log.jsonl", RUN)
    for run in (folder / "run-folder", folder / "library" / "first"):
        run.mkdir(parents=True)
        for name, text in (("plan.toml", SORTIE_PLAN), ("log.jsonl", RUN), ("run.toml", HEADER)):
            written(run, name, text)
    book = Workbook()
    for row in (("PET", "who", "what"), ("0:05", "EV1", "T010 start"), ("0:20", "EV1", "T010 done")):
        book.active.append(row)
    book.save(folder / "log.xlsx")
    kept = EventStore(f"sqlite:///{folder / 'plan.log.sqlite'}", "t")
    kept.append(RUN.splitlines(), parse_instant("2031-04-12T09:20:00Z"))
    kept.save_to(folder / "saved.jsonl")
    kept.close()
    add_key(folder / "keys.toml", "A. Person", "log")
    return folder


@pytest.fixture
def desk(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of that folder, which the command runs in."""
    shutil.copytree(made, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("command", commands())
def test_every_command_of_the_readme_runs(command: str, desk: Path) -> None:
    """As it stands there, on a folder that holds what it names; a server is started and asked nothing but to come up."""
    words = shlex.split(command)
    with served_here() as start:
        if words[0] in SERVES:
            _, address = start(*words, "--port", "0", "--no-browser")
            assert address.startswith("http://127.0.0.1:")
        elif words[0] == "send":
            _, address = start("serve", "plan.toml", "--port", "0", "--no-browser")
            done = tetherline(*words, "--to", address)
            # One line of the log is cut off: that one is refused, with the reason.
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
