"""Reading a plan file (TOML), with every problem at its line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

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
    """The plan in a file.

    Parameters
    ----------
    path : str or Path
        A TOML file.
    sheet : str, Path or None
        A CSV or XLSX sheet whose tasks stand in place of those of the file.

    Raises
    ------
    InputError
        With every problem found, when with any of them the plan cannot be followed.
    """
    plan, problems = examine_plan(path, sheet)
    if plan is None:
        raise InputError(problems)
    return plan


def examine_plan(path: str | Path, sheet: str | Path | None = None) -> tuple[Plan | None, list[Problem]]:
    """The plan in a file (None when it cannot be followed), and everything that was found, warnings included."""
    path = Path(path)
    try:
        if path.suffix.lower() in SUFFIXES:
            raise refusal(path, WHAT, "a task sheet", "Name the plan file, and give the sheet beside it.")
        text = read_text(path, WHAT, PLAN_FILE_MB)
        if text.lstrip().startswith("{"):
            raise refusal(path, WHAT, "JSON, such as an event log", "Name the plan; the log is given beside it.")
        tables = read_toml(text, path)
        address = _addresses(path, text)
        problems: list[Problem] = []
        if sheet is not None:
            read = read_plan_sheet(Path(sheet))
            tables, address = _with_sheet(tables, address, read)
            problems = read.problems
        plan, findings = examine_tables(tables)
    except InputError as refused:
        return None, refused.problems
    except RecursionError:
        return None, refusal(path, WHAT, "lists or tables nested too deep", "Check that it is a plan file.").problems
    return None if problems else plan, [*problems, *_addressed(findings, address)]


def read_toml(text: str, path: Path, what: str = WHAT) -> dict[str, Any]:
    """The tables of a TOML text; `what` it should be, for the words of a refusal.

    Raises
    ------
    InputError
        With line and column, when it is not TOML.
    """
    for number, line in enumerate(text.split("\n"), start=1):
        if line.count(".") > MOST_DOTS:  # the TOML reader takes minutes over a key of very many parts
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
        cure = "A key or table stands here a second time; write each once, and [[task]] with two brackets."
    shown = f"'{shown}'" if len(shown) <= 60 else f"'{shown[:56]} ...'"
    problem = Problem(
        f"line {number}{column}", "valid TOML", f"{shown} ({complaint})", cure, f"{path}:{number}"
    )
    return InputError([problem])


Address = Callable[[Place], Spot]


def _addresses(path: Path, text: str) -> Address:
    """Where a place of the tables stands in a plan file."""
    lines = line_numbers(text)

    def address(place: Place) -> Spot:
        while place and place not in lines:
            place = place[:-1]
        line = lines.get(place, 1)
        return Spot(str(path), line, f"{path}:{line}")

    return address


def _with_sheet(tables: dict[str, Any], address: Address, sheet: PlanSheet) -> tuple[dict[str, Any], Address]:
    """The tables with the tasks of a sheet, and where each place of them stands."""
    merged, rows = sheet.into(tables)

    def sheet_address(place: Place) -> Spot:
        item, below = split_place(place)
        if item in rows:
            return sheet.spot(rows[item], str(below[0]) if below else None)
        return address(place)

    return merged, sheet_address


def _addressed(findings: list[Finding], address: Address) -> list[Problem]:
    """The problems by file and line; errors before warnings on one line."""
    placed = [(address(finding.place), finding.problem) for finding in findings]
    placed.sort(key=lambda pair: (pair[0].file, pair[0].line, pair[1].severity != "error"))
    return [replace(problem, where=spot.text) for spot, problem in placed]
