"""The guards of the core and of the layers hold: each is broken in a copy of the program, and is seen to fail."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from tests.house import BROUGHT, PROJECT, ROOT
from tests.purity import PACKAGES, impurities, modules

CONTRACTS = {contract["name"]: contract for contract in PROJECT["tool"]["importlinter"]["contracts"]}
DOWNWARDS = "Imports run downwards only"
ROOMS_DOWNWARDS = "Inside the core too, imports run downwards only"
SERVICE = "Inside the service, HTTP stands on answers, these on the desk, and the desk on its session"
COMMANDS = "Inside the command line, commands stand on what they share and not on each other"
NO_FRAMEWORK = "The core knows no framework"
ROOMS = [room for layer in CONTRACTS[ROOMS_DOWNWARDS]["layers"] for room in layer.split(" | ")]
DEEP = Path("one", "two", "three.py")  # inside a room

FORBIDDEN = [
    "datetime.now(UTC)",
    "from datetime import datetime\ndatetime.utcnow()",
    "import datetime as d\nd.datetime.now()",
    "import datetime\ndatetime.date.today()",
    "from datetime import datetime as dt\nread = dt.now",
    "from datetime import datetime\nfield(default_factory=datetime.now)",
    "getattr(datetime, 'now')()",
    "import time\ntime.time()",
    "from time import monotonic",
    "from time import *",
    "import time as t",
    "def late():\n    import time",
    "import random",
    "import secrets",
    "open('plan.toml')",
    "read = open",
    "import os",
    "import os.path as p",
    "import io",
    "import sys",
    "from pathlib import Path",
    "path.read_text()",
    "path.write_bytes(b'')",
    "np.loadtxt('plan')",
    "print(1)",
    "map(print, [1])",
    "input()",
    "import logging",
    "from logging import getLogger",
    "import warnings",
    "import importlib",
    "from importlib import import_module",
    "__import__('time')",
    "__builtins__['open']",
    "exec('import time')",
    "eval('1')",
    "import threading",
    "import asyncio",
    "import socket",
    "import subprocess",
    "import sqlite3",
    "import dash",
    "import pandas as pd",
    "from plotly import graph_objects",
    "from fastapi.responses import Response",
    "from . import times",
    "from ...words import clock_text",
    "import dashboard.words",
    "from dashboard import words",
    "from dashboard.service.desk import Desk",
]
ALLOWED = [
    "from datetime import UTC, datetime\ndatetime(2031, 4, 12, tzinfo=UTC)",
    "from datetime import datetime\ndef pet_min(record): return record.now - record.pet_zero",
    "import numpy as np\nnp.maximum(1, 2)",
    "from dashboard.core.base.times import parse_instant",
    "state.today = 1",
]


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(ROOT)))
def test_the_core_reads_no_clock_and_no_file_and_prints_nothing(path: Path) -> None:
    """What the core says depends on what it is given and on nothing else."""
    assert impurities(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("source", FORBIDDEN)
def test_what_the_core_may_not_do_is_found(source: str) -> None:
    """The search finds a clock, a file, a print and an import, whatever they are called in the module."""
    assert impurities(source)


@pytest.mark.parametrize("source", ALLOWED)
def test_what_the_core_may_do_is_not_found(source: str) -> None:
    """The instant `now` of a record, the times of the calendar, arrays, and the core itself."""
    assert impurities(source) == []


@pytest.fixture(scope="module")
def copied(tmp_path_factory: pytest.TempPathFactory) -> Callable[[], Path]:
    """Makes a copy of the program, in which a test breaks what it wants."""

    def copy() -> Path:
        place = tmp_path_factory.mktemp("copy")
        for package in ("dashboard", "replay"):
            shutil.copytree(ROOT / package, place / package, ignore=shutil.ignore_patterns("__pycache__", "scenarios"))
        shutil.copy(ROOT / "pyproject.toml", place)
        return place

    return copy


def written(place: Path, *parts: str | Path, source: str) -> Path:
    """A new module in a copy; each folder on the way becomes a package."""
    file = place.joinpath("dashboard", *parts)
    file.parent.mkdir(parents=True, exist_ok=True)
    for folder in file.relative_to(place).parents:
        if folder.parts:
            (place / folder / "__init__.py").touch()
    file.write_text(source, encoding="utf-8")
    return file


def verdicts(place: Path) -> tuple[dict[str, str], str]:
    """What import-linter says of each contract of a copy, KEPT or BROKEN, and all that it prints."""
    run = "from importlinter.cli import lint_imports_command; lint_imports_command()"
    done = subprocess.run(
        [sys.executable, "-c", run, "--no-cache", "--no-logo"], cwd=place, env={"PYTHONPATH": str(place), "COLUMNS": "300"},
        capture_output=True, encoding="utf-8", timeout=300,
    )  # fmt: skip
    said = dict(re.findall(r"^(.+) (KEPT|BROKEN)$", done.stdout, re.MULTILINE))
    assert (done.returncode == 0) == (set(said.values()) == {"KEPT"}), done.stdout + done.stderr
    return said, done.stdout


def test_a_clock_deep_in_any_room_is_found(copied: Callable[[], Path]) -> None:
    """Three folders down in each room, and at the top of the core."""
    place = copied()
    planted = {written(place, "core", room, DEEP, source="import datetime as d\nd.datetime.now()\n") for room in ROOMS}
    planted.add(written(place, "core", "loose.py", source="print(1)\n"))
    assert len(planted) == len(ROOMS) + 1
    assert {path for path in modules(place) if impurities(path.read_text(encoding="utf-8"))} == planted


def test_the_contracts_are_broken_by_what_they_forbid(copied: Callable[[], Path]) -> None:
    """Frameworks deep in each room, imports that look up or out, a session that knows HTTP, a command that uses another."""
    place = copied()
    for room in ROOMS:
        written(place, "core", room, DEEP, source="import plotly.graph_objects\n")
    written(place, "core", "base", "one", "up.py", source="from dashboard.core.debrief import facts\n")
    written(place, "core", "plan", "one", "out.py", source="import dashboard.words\n")
    written(place, "service", "session", "one", "up.py", source="import dashboard.service.http.api\n")
    written(place, "cli", "suits.py", source="from dashboard.cli import send\n")
    said, printed = verdicts(place)
    assert said == dict.fromkeys(CONTRACTS, "BROKEN")
    for room in ROOMS:
        assert f"dashboard.core.{room}.one.two.three -> plotly" in printed
    assert "dashboard.core.base.one.up -> dashboard.core.debrief" in printed
    assert "dashboard.core.plan.one.out -> dashboard.words" in printed
    assert "dashboard.service.session.one.up -> dashboard.service.http.api" in printed
    assert "dashboard.cli.suits -> dashboard.cli.send" in printed


def test_a_new_room_or_command_cannot_stay_outside_the_layers(copied: Callable[[], Path]) -> None:
    """Each is named until it has its layer, though it imports nothing."""
    place = copied()
    written(place, "core", "tenth", "room.py", source="")
    written(place, "service", "stray.py", source="")
    written(place, "cli", "stray.py", source="")
    said, printed = verdicts(place)
    assert said == {
        DOWNWARDS: "KEPT", ROOMS_DOWNWARDS: "BROKEN", SERVICE: "BROKEN", COMMANDS: "BROKEN", NO_FRAMEWORK: "KEPT",
    }  # fmt: skip
    assert "dashboard.core.tenth" in printed
    assert "dashboard.service.stray" in printed
    assert "dashboard.cli.stray" in printed


def test_every_package_and_module_at_the_top_has_its_layer() -> None:
    """The outermost contract names what it holds: nothing in `dashboard` can stay outside it."""
    named = {name.strip(" ()") for layer in CONTRACTS[DOWNWARDS]["layers"] for name in layer.split("|")}
    places = {
        f"dashboard.{path.stem}"
        for path in (ROOT / "dashboard").iterdir()
        if path.stem != "__init__" and (path.suffix == ".py" or (path / "__init__.py").is_file())
    }
    assert places | {"replay"} == named


def test_every_package_but_three_is_forbidden_in_the_core() -> None:
    """A new dependency of the program cannot reach the core unless it is put on the short list."""
    declared = {Requirement(text).name.lower().replace("-", "_") for text in PROJECT["project"]["dependencies"]}
    assert declared >= PACKAGES
    assert set(CONTRACTS[NO_FRAMEWORK]["forbidden_modules"]) == (declared - PACKAGES) | BROUGHT
