"""A command that serves, in a process of its own, for as long as a benchmark needs it."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def serving(command: str, *arguments: str | Path) -> Iterator[str]:
    """The address of `tetherline serve`, `replay` or `demo` on a free port."""
    with serving_process(command, *arguments) as (address, _):
        yield address


@contextmanager
def serving_process(command: str, *arguments: str | Path) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """As `serving`, with the process."""
    whole = [sys.executable, "-m", "dashboard.cli", command, *map(str, arguments), "--port", "0"]
    process = subprocess.Popen(whole, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    try:
        address = next(
            (found.group() for line in process.stdout if (found := re.search(r"http://\S+", line))), None
        )
        if address is None:
            raise RuntimeError(f"tetherline {command} did not start")
        yield address, process
    finally:
        process.kill()
        process.communicate()


@contextmanager
def serving_module(module: str) -> Iterator[str]:
    """The address that a module prints as its first line; it serves in a process of its own."""
    process = subprocess.Popen([sys.executable, "-m", module], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    try:
        if not (address := process.stdout.readline().strip()):
            raise RuntimeError(f"{module} did not start")
        yield address
    finally:
        process.kill()
        process.communicate()
