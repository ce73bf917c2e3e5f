"""Reads a plan file (TOML), and reports every problem at its line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

from dashboard.core.base.problems import InputError, Problem
from dashboard.core.plan.check import examine_tables
from dashboard.core.plan.fields import Finding, Place, split_place
from dashboard.core.plan.model import Plan
from dashboard.log.limits import PLAN_FILE_MB
from dashboard.log.plan_sheet import PlanSheet, Spot, read_plan_sheet
from dashboard.log.table import SUFFIXES
from dashboard.log.textfile import read_text, refusal
from dashboard.log.toml_lines import line_numbers

WHAT = "a plan file (TOML)"
MOST_DOTS = 200
_AT = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")
_BARE_CLOCK = re.compile(r"=\s*\[?\s*-?\d{1,3}:\d\d\b")


def load_plan(path: str | Path, sheet: str | Path | None = None) -> Plan:
    """Read the plan in a file.

    Parameters
    ----------
    path
        A TOML file.
    sheet
        A CSV or XLSX sheet whose tasks replace those of the file; None: the file's own tasks.

    Returns
    -------
    Plan
        The plan. Warnings, and errors with which it can still be followed, are not reported.

    Raises
    ------
    InputError
        When the plan cannot be followed; it holds every problem found.
    """
    plan, problems = examine_plan(path, sheet)
    if plan is None:
        raise InputError(problems)
    return plan


def examine_plan(path: str | Path, sheet: str | Path | None = None) -> tuple[Plan | None, list[Problem]]:
    """Read the plan in a file, and report everything that is wrong with it. Bad input raises no error here.

    Parameters
    ----------
    path
        A TOML file.
    sheet
        A CSV or XLSX sheet whose tasks replace those of the file; None: the file's own tasks.

    Returns
    -------
    Plan or None
        None when it cannot be followed.
    list of Problem
        Errors and cautions, in the order of file and line.
    """
    examined = examine(path, sheet)
    return examined.plan, examined.problems


class Examined(NamedTuple):
    """A plan file, read.

    Parameters
    ----------
    plan : Plan or None
        None when it cannot be followed.
    problems : list of Problem
        Errors and cautions, in the order of file and line.
    address : callable
        Findings about the plan -> problems at their lines, in the order of file and line.
    """

    plan: Plan | None
    problems: list[Problem]
    address: Callable[[list[Finding]], list[Problem]]


def examine(path: str | Path, sheet: str | Path | None = None) -> Examined:
    """As `examine_plan`, with the way to put more findings about the plan at their lines.

    Parameters
    ----------
    path
        A TOML file.
    sheet
        A CSV or XLSX sheet whose tasks replace those of the file; None: the file's own tasks.

    Returns
    -------
    Examined
    """
    path = Path(path)
    try:
        if path.suffix.lower() in SUFFIXES:
            raise refusal(path, WHAT, "a task sheet", "Give the plan file here; a sheet is given separately.")
        text = read_text(path, WHAT, PLAN_FILE_MB)
        if text.lstrip().startswith("{"):
            raise refusal(path, WHAT, "JSON, such as an event log", "Give the plan here; the log is given separately.")
        tables = read_toml(text, path)
        address = addresses(path, text)
        problems: list[Problem] = []
        if sheet is not None:
            read = read_plan_sheet(Path(sheet))
            tables, address = _with_sheet(tables, address, read)
            problems = read.problems
        plan, findings = examine_tables(tables)
    except InputError as refused:
        return Examined(None, refused.problems, _nowhere)
    except RecursionError:
        deep = refusal(path, WHAT, "lists or tables nested too deep", "Check that it is a plan file.")
        return Examined(None, deep.problems, _nowhere)
    return Examined(
        None if problems else plan, [*problems, *addressed(findings, address)], lambda more: addressed(more, address)
    )


def _nowhere(findings: list[Finding]) -> list[Problem]:
    """The problems of findings when no file could be read."""
    return [finding.problem for finding in findings]


def read_toml(text: str, path: Path, what: str = WHAT) -> dict[str, Any]:
    """Read the tables of a TOML text.

    Parameters
    ----------
    text
        The text.
    path
        The file that it is from, to be named in the error.
    what
        What the file should be, for the error.

    Returns
    -------
    dict
        Its tables.

    Raises
    ------
    InputError
        When the text is not TOML; the error names line and column.
    """
    for number, line in enumerate(text.split("\n"), start=1):
        if line.count(".") > MOST_DOTS:  # the TOML reader needs minutes for a key with very many parts
            raise refusal(path, what, f"a line with {line.count('.')} dots", f"Check that it is {what}.", number)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as wrong:
        raise _syntax_refusal(str(wrong), text, path) from None
    except ValueError as wrong:
        raise refusal(path, what, f"a value that cannot be read ({wrong})", "Correct the value.") from None


def _syntax_refusal(message: str, text: str, path: Path) -> InputError:
    at = _AT.search(message)
    complaint = message[: at.start()] if at else message
    complaint = complaint[:1].lower() + complaint[1:]
    lines = text.split("\n")
    number, column = (int(at[1]), f", column {at[2]}") if at and at[1] else (len(lines), ", end of the file")
    shown = lines[number - 1].strip() if number <= len(lines) else ""
    cure = "Correct the line."
    if _BARE_CLOCK.search(shown):
        cure = 'Put times in quotes: "1:50".'
    elif "cannot overwrite" in complaint or "cannot declare" in complaint:
        cure = "This key or table appears a second time. Write each once, and [[task]] with two brackets."
    shown = f"'{shown}'" if len(shown) <= 60 else f"'{shown[:56]} ...'"
    problem = Problem(
        f"line {number}{column}", "valid TOML", f"{shown} ({complaint})", cure, f"{path}:{number}"
    )
    return InputError([problem])


Address = Callable[[Place], Spot]


def addresses(path: Path, text: str) -> Address:
    """Make a function that finds where a place of the tables stands in a plan file.

    Parameters
    ----------
    path
        The plan file.
    text
        Its text.

    Returns
    -------
    callable
        Gives the spot of a place, or of the nearest table around it.
    """
    lines = line_numbers(text)

    def address(place: Place) -> Spot:
        while place and place not in lines:
            place = place[:-1]
        line = lines.get(place, 1)
        return Spot(str(path), line, f"{path}:{line}")

    return address


def _with_sheet(tables: dict[str, Any], address: Address, sheet: PlanSheet) -> tuple[dict[str, Any], Address]:
    """The tables with the tasks of a sheet, and a function that finds where each place of them stands."""
    merged, rows = sheet.into(tables)

    def sheet_address(place: Place) -> Spot:
        item, below = split_place(place)
        if item in rows:
            return sheet.spot(rows[item], str(below[0]) if below else None)
        return address(place)

    return merged, sheet_address


def addressed(findings: list[Finding], address: Address) -> list[Problem]:
    """Give findings the places where they stand in the files.

    Parameters
    ----------
    findings
        In any order.
    address
        Finds where a place of the tables stands.

    Returns
    -------
    list of Problem
        Sorted by file and line; errors come before the others of the same line.
    """
    placed = [(address(finding.place), finding.problem) for finding in findings]
    placed.sort(key=lambda pair: (pair[0].file, pair[0].line, pair[1].severity != "error"))
    return [replace(problem, where=spot.text) for spot, problem in placed]
