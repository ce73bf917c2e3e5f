"""Prints texts, tables, JSON, lists under a heading, and progress, for every command."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table
from rich.text import Text

from dashboard.core.base.findings import Unread
from dashboard.core.base.problems import Problem
from dashboard.words import how_many

PIPED_WIDTH = 120
MOST_UNREAD = 20


def show(*parts: Any) -> None:
    """Print texts and tables, folded to the width of the terminal. Output to a pipe or file is `PIPED_WIDTH` wide.

    Parameters
    ----------
    *parts
        Texts and tables of Rich, or plain texts.
    """
    width = None if sys.stdout.isatty() or "COLUMNS" in os.environ else PIPED_WIDTH
    console = Console(width=width, markup=False, highlight=False, emoji=False)
    for part in parts:
        console.print(part, overflow="fold")


def plain_table(title: str, *heads: str) -> Table:
    """Make an empty table without lines, whose cells are folded and never cut.

    Parameters
    ----------
    title
        Stands above the table.
    heads
        Heading of each column.

    Returns
    -------
    Table
    """
    table = Table(title=title, title_justify="left", box=None, pad_edge=False, header_style="")
    for head in heads:
        table.add_column(head, overflow="fold")
    return table


def print_json(value: Any) -> None:
    """Print a value as JSON.

    Parameters
    ----------
    value
        Values that JSON does not know are printed as text.
    """
    print(json.dumps(value, indent=2, ensure_ascii=False, default=str))


def warn(problem: Problem | None) -> None:
    """Print a problem as a warning on standard error.

    Parameters
    ----------
    problem
        None prints nothing.
    """
    if problem is not None:
        print(f"warning: {problem.text()}", file=sys.stderr)


def unread_parts(unread: Sequence[Unread]) -> list[Text]:
    """Make the printable parts about the lines of a log that could not be understood.

    Parameters
    ----------
    unread
        All such lines; at most `MOST_UNREAD` of them are shown.

    Returns
    -------
    list of Text
        Empty when there are no such lines.
    """
    lines = [f"{one.where or 'place not known'}: {one.why} | {short_line(one.line)}" for one in unread]
    more = len(lines) - MOST_UNREAD
    rest = [Text(f"  and {how_many(more, 'more line')}; tetherline state --json has them all")] if more > 0 else []
    return [*listed("Could not be understood", lines[:MOST_UNREAD], len(lines)), *rest]


def listed(heading: str, lines: Sequence[str], count: int | None = None) -> list[Text]:
    """Put lines under a heading with their number.

    Parameters
    ----------
    heading
        The heading, without a colon.
    lines
        The lines to show.
    count
        The number for the heading when only some lines are shown; None: the number of `lines`.

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
    what
        What is being done.
    total
        Number of steps.

    Yields
    ------
    callable
        Call it without arguments after each step.
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
    """Shorten a line of the log for display.

    Parameters
    ----------
    line
        The line as it stands in the log.

    Returns
    -------
    str
        Without line breaks, at most 100 characters.
    """
    shown = " ".join(line.split())
    return shown if len(shown) <= 100 else shown[:97] + "..."
