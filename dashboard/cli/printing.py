"""Functions with which every command prints: texts, tables, JSON, lists under a heading, and progress."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.text import Text

from dashboard.core.base.findings import Unread
from dashboard.core.base.problems import Problem
from dashboard.words import how_many

PIPED_WIDTH = 120
MOST_UNREAD = 20


def show(*parts: Any) -> None:
    """Print texts and tables, folded to the width of the terminal; a pipe gets a fixed width."""
    width = None if sys.stdout.isatty() or "COLUMNS" in os.environ else PIPED_WIDTH
    console = Console(width=width, markup=False, highlight=False, emoji=False)
    for part in parts:
        console.print(part, overflow="fold")


def print_json(value: Any) -> None:
    """Print a value as JSON."""
    print(json.dumps(value, indent=2, ensure_ascii=False, default=str))


def warn(problem: Problem | None) -> None:
    """Print a problem as a warning on standard error; None prints nothing."""
    if problem is not None:
        print(f"warning: {problem.text()}", file=sys.stderr)


def unread_parts(unread: Sequence[Unread]) -> list[Text]:
    """The lines of the log that could not be understood, at most `MOST_UNREAD` of them, as printable parts."""
    lines = [f"{one.where or 'place not known'}: {one.why} | {short_line(one.line)}" for one in unread]
    more = len(lines) - MOST_UNREAD
    rest = [Text(f"  and {how_many(more, 'more line')}; tetherline state --json has them all")] if more > 0 else []
    return [*listed("Could not be understood", lines[:MOST_UNREAD], len(lines)), *rest]


def listed(heading: str, lines: Sequence[str], count: int | None = None) -> list[Text]:
    """Lines under a heading with their number.

    Parameters
    ----------
    heading : str
    lines : sequence of str
    count : int or None
        The number, if only some of the lines are shown; None: the number of `lines`.

    Returns
    -------
    list of Text
        Empty when there are no lines.
    """
    if not lines:
        return []
    return [Text(""), Text(f"{heading} ({len(lines) if count is None else count}):"), *(Text(f"  {line}") for line in lines)]


@contextmanager
def progress(what: str, total: int) -> Iterator[Callable[[], None]]:
    """Show a progress bar on standard error, if it is a terminal.

    Parameters
    ----------
    what : str
        What is being done.
    total : int
        Number of steps.

    Yields
    ------
    callable
        Call it after each step.
    """
    console = Console(stderr=True)
    bar = Progress(
        TextColumn(what),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        console=console,
        transient=True,
        disable=not console.is_terminal,
    )
    with bar:
        task = bar.add_task(what, total=total)
        yield lambda: bar.advance(task)


def short_line(line: str) -> str:
    """A line of the log without line breaks, at most 100 characters."""
    shown = " ".join(line.split())
    return shown if len(shown) <= 100 else shown[:97] + "..."
