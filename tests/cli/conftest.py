"""Folders with plans and recorded runs, and servers started as a person starts them: here, or in processes of their own."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.command import ENDED, LOG, PLAN, written
from tests.serving import Start, served_here

HEADER = 'title = "Pool run 3"\nsetting = "pool"\ndate = 2031-03-02\n'


class Serving(subprocess.Popen):
    """A command that serves, in a process of its own, and the lines that it printed before its address."""

    said: list[str]


StartProcess = Callable[..., tuple[Serving, str]]


@pytest.fixture
def sortie(tmp_path: Path) -> Path:
    """A folder with a plan and a recorded run."""
    (tmp_path / "plan.toml").write_text(PLAN, encoding="utf-8")
    (tmp_path / "run-1.jsonl").write_text(LOG, encoding="utf-8")
    (tmp_path / "run-1.toml").write_text(HEADER, encoding="utf-8")
    return tmp_path


@pytest.fixture
def plan(sortie: Path) -> Path:
    """Its plan."""
    return sortie / "plan.toml"


@pytest.fixture
def log(sortie: Path) -> Path:
    """The log of its run."""
    return sortie / "run-1.jsonl"


@pytest.fixture
def library(tmp_path: Path) -> Path:
    """A pool run that ended, one that stopped half way, and one without its plan."""
    for name, log in (("good", ENDED), ("half", LOG.replace("09:46", "09:45")), ("broken", LOG)):
        folder = tmp_path / "runs" / name
        folder.mkdir(parents=True)
        (folder / "log.jsonl").write_text(log, encoding="utf-8")
        (folder / "run.toml").write_text('setting = "pool"\ndate = "2031-03-02"\n', encoding="utf-8")
        if name != "broken":
            (folder / "plan.toml").write_text(PLAN, encoding="utf-8")
    return tmp_path / "runs"


@pytest.fixture
def start() -> Iterator[Start]:
    """Starts a command that serves, for one test, in this process."""
    with served_here() as started:
        yield started


@pytest.fixture
def start_process() -> Iterator[StartProcess]:
    """Starts a command that serves in a process of its own; gives the process and its address. All are ended afterwards."""
    processes: list[Serving] = []

    def started(*arguments: str | Path, stdin: int = subprocess.DEVNULL) -> tuple[Serving, str]:
        command = [sys.executable, "-m", "dashboard.cli", *map(str, arguments)]
        process = Serving(command, stdin=stdin, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        processes.append(process)
        process.said = []
        for line in process.stdout:
            if address := re.search(r"https?://\S+", line):
                return process, address.group()
            process.said.append(line)
        raise AssertionError(f"the server did not start: {process.stderr.read()}")

    yield started
    for process in processes:
        process.kill()
        process.communicate()


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a server that follows the sortie, for the tests of a file: each sends events of its own."""
    plan = written(tmp_path_factory.mktemp("served"), "plan.toml", PLAN)
    with served_here() as started:
        yield started("serve", plan, "--port", "0", "--no-browser")[1]
