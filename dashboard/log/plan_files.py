"""Reads a plan from TOML, CSV or XLSX, and writes it as any of these, by the ending of the name.

1. TOML and XLSX hold a whole plan. CSV holds its tasks; the rest of the plan stands in a TOML file beside it
   (`rest_beside`). A sheet without that rest is read with the rest of a plan that the user names.
2. What is written is read back before it takes its place. It must give the same plan; else nothing is written, and the error says
   what the file cannot hold.
3. A plan whose fields are right is read even if the check finds more: the findings are given beside it.
4. The comments of a TOML file are kept where its text becomes the new text (`dashboard.log.plan_update`).
"""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from dashboard.core.base.problems import InputError, Problem
from dashboard.core.plan.check import examine_tables
from dashboard.core.plan.fields import Place, read_tables, split_place, subject_of
from dashboard.core.plan.model import Plan
from dashboard.log.limits import PLAN_FILE_MB, PLAN_SHEET
from dashboard.log.plan_sheet import HowToRead, PlanSheet, Spot, read_plan_sheet
from dashboard.log.plan_sheet_writer import sheet_of_plan
from dashboard.log.plan_update import changed_plan_text, comment_lines, without_tasks
from dashboard.log.plan_workbook import SORTIE, read_other_tables
from dashboard.log.planfile import WHAT, Address, addressed, addresses, read_toml
from dashboard.log.plantext import plan_to_toml
from dashboard.log.textfile import read_file, read_text, refusal, wrong_ending
from dashboard.log.xlsx_rows import xlsx_sheets

TOML, CSV, XLSX = ".toml", ".csv", ".xlsx"
ENDINGS = (TOML, CSV, XLSX)
REST = ".rest.toml"
_REST_HEADING = """\
# The rest of the plan whose tasks stand in {name}. Keep both files together.
# tetherline convert {name} plan.toml joins them.

"""
_HEADING_OF_REST = re.compile(r"\A# The rest of the plan whose tasks stand in .*\n# tetherline convert .* joins them\.\n\n")


@dataclass
class PlanRead:
    """A plan as it was read.

    Parameters
    ----------
    plan
        Its fields are right.
    findings
        What the check of a plan finds besides, with the places in the files.
    sheet
        The task sheet, with what was taken how; None for TOML.
    text
        The TOML text that the plan, or the rest of it, was read from; None for a workbook with a whole plan.
    sources
        The files that were read.
    """

    plan: Plan
    findings: list[Problem]
    sheet: PlanSheet | None = None
    text: str | None = None
    sources: list[Path] = field(default_factory=list)


@dataclass
class Written:
    """What was written: the files, and how many comments of a TOML text the new files do not have."""

    files: list[Path]
    comments_gone: int = 0


def rest_beside(path: Path) -> Path:
    """Name the file that holds the rest of a plan whose tasks are in CSV.

    Parameters
    ----------
    path
        The CSV file.

    Returns
    -------
    Path
        In the same folder.
    """
    return path.with_name(path.stem + REST)


def is_whole_workbook(path: Path) -> bool:
    """Tell whether a workbook holds a whole plan, not its tasks alone.

    Parameters
    ----------
    path
        An XLSX file.

    Returns
    -------
    bool
        Whether it has a sheet `sortie`.
    """
    sheets = xlsx_sheets(path, read_file(path, PLAN_SHEET.what, PLAN_SHEET.file_mb), PLAN_SHEET)
    return any(sheet.name.casefold() == SORTIE for sheet in sheets)


def read_plan_from(path: Path, rest: Path | None = None, how: HowToRead | None = None) -> PlanRead:
    """Read a plan from a file by the ending of its name.

    Parameters
    ----------
    path
        TOML, CSV or XLSX.
    rest
        A plan file with the other tables, for a sheet that holds tasks only. None: the file beside the CSV (`rest_beside`).
    how
        What a person says of the sheet; None: nothing.

    Returns
    -------
    PlanRead
        The plan with what the check finds in it.

    Raises
    ------
    InputError
        When the file or one of its fields cannot be read, or when the rest of the plan is nowhere; it holds every problem found.
    """
    if path.suffix.lower() not in ENDINGS:
        cure = "In the spreadsheet, save the sheet as XLSX or CSV."
        raise wrong_ending(path, ENDINGS, cure)
    if path.suffix.lower() == TOML:
        tables, address, text = _toml(path)
        return _checked(tables, address, None, text, [path])
    sheets = None
    if path.suffix.lower() == XLSX:
        sheets = xlsx_sheets(path, read_file(path, PLAN_SHEET.what, PLAN_SHEET.file_mb), PLAN_SHEET)
        other = read_other_tables(path, sheets)
        if other is not None:
            if rest is not None:
                raise InputError([Problem("option --with", "a sheet that holds tasks only",
                                          "a workbook with a sheet 'sortie', so with the rest of the plan", "Leave --with out.",
                                          str(path))])
            sheet = read_plan_sheet(path, how, _names(other.tables), sheets)
            sheet.problems[:0] = other.problems
            first = Spot(str(path), 0, str(path))
            return _joined(sheet, other.tables, lambda place: _spot_of(other.spots, place) or first, None, [path])
    beside = rest_beside(path)
    rest = rest or (beside if path.suffix.lower() == CSV and beside.is_file() else None)
    if rest is None:
        read_plan_sheet(path, how, sheets=sheets)  # a file that is no task sheet is refused as that
        where = f" in {beside.name}" if path.suffix.lower() == CSV else ""
        raise refusal(
            path, f"the rest of the plan (sortie, lanes, suits and so on{where})", "tasks only",
            f"Give a plan file that has it: --with PLAN.toml. Or start a new plan: tetherline new PLAN.toml --from {path.name}.",
        )
    tables, address, text = _toml(rest)
    text = _HEADING_OF_REST.sub("", text, count=1)
    return _joined(read_plan_sheet(path, how, _names(tables), sheets), tables, address, text, [path, rest])


def join_sheet(path: Path, tables: Mapping[str, Any], how: HowToRead | None = None) -> PlanRead:
    """Read a sheet of tasks into a plan whose other tables are given.

    Parameters
    ----------
    path
        CSV or XLSX.
    tables
        The other tables of the plan.
    how
        What a person says of the sheet; None: nothing.

    Returns
    -------
    PlanRead
        The plan with what the check finds in it.

    Raises
    ------
    InputError
        When the sheet or one of its fields cannot be read.
    """
    whole = Spot(str(path), 0, str(path))
    return _joined(read_plan_sheet(path, how, _names(tables)), tables, lambda place: whole, None, [path])


def write_plan_to(path: Path, plan: Plan, text: str | None = None, source_text: str | None = None) -> Written:
    """Write a plan to a file by the ending of its name, after it has been read back as the same plan.

    Parameters
    ----------
    path
        TOML, CSV or XLSX; an existing file is replaced.
    plan
        Any plan.
    text
        A TOML text that the new TOML text is to be made of, with its comments. None: it is written anew.
    source_text
        The TOML text that the plan, or the rest of it, comes from. The rest beside a CSV keeps its comments; a workbook has none,
        so they are counted as gone. None: nothing of the plan comes from TOML.

    Returns
    -------
    Written
        The files.

    Raises
    ------
    InputError
        When a file cannot be written, or cannot hold the plan.
    """
    ending, gone = path.suffix.lower(), 0
    comments = comment_lines(source_text) if source_text is not None else 0
    try:
        with tempfile.TemporaryDirectory(dir=path.parent, prefix=".tetherline-") as folder:
            made = Path(folder) / path.name
            files = [made]
            if ending == TOML:
                changed = changed_plan_text(text, plan) if text is not None else None
                gone = changed.comments_gone if changed else comment_lines(text or "")
                made.write_text(changed.text if changed else plan_to_toml(plan), encoding="utf-8", newline="")
            else:
                made.write_bytes(sheet_of_plan(plan, path))
                gone = comments
            if ending == CSV:
                kept = without_tasks(source_text) if source_text is not None else None
                rest = kept or without_tasks(plan_to_toml(plan)) or ""
                gone = max(0, comments - comment_lines(rest))
                files.append(rest_beside(made))
                files[1].write_text(_REST_HEADING.format(name=path.name) + rest, encoding="utf-8", newline="")
            _same(path, plan, read_plan_from(made).plan)
            for one in files:
                os.replace(one, path.with_name(one.name))
    except OSError as wrong:
        raise refusal(path, "a place to write the plan", str(wrong.strerror), "Choose another folder.") from None
    return Written([path.with_name(one.name) for one in files], gone)


def _toml(path: Path) -> tuple[dict[str, Any], Address, str]:
    text = read_text(path, WHAT, PLAN_FILE_MB)
    try:
        return read_toml(text, path), addresses(path, text), text
    except RecursionError:
        raise refusal(path, WHAT, "lists or tables nested too deep", "Check that it is a plan file.") from None


def _names(tables: Mapping[str, Any]) -> set[str]:
    """The names that lists of a task may hold, apart from tasks: lanes and kinds of window."""
    items = [*_tables(tables.get("lane")), *_tables(tables.get("window"))]
    return {name for one in items for name in (one.get("id"), one.get("kind")) if isinstance(name, str)}


def _tables(value: Any) -> Iterator[Mapping[str, Any]]:
    return (one for one in value if isinstance(one, Mapping)) if isinstance(value, list) else iter(())


def _joined(sheet: PlanSheet, tables: Mapping[str, Any], address: Address, text: str | None, sources: list[Path]) -> PlanRead:
    """The plan of a sheet and the other tables."""
    if not sheet.tasks and not sheet.problems:
        found = "none below the headings"
        raise refusal(sources[0], "at least one row with a task", found, "Write each task in a row of its own.")
    merged, rows = sheet.into(tables)

    def of_both(place: Place) -> Spot:
        item, below = split_place(place)
        return sheet.spot(rows[item], str(below[0]) if below else None) if item in rows else address(place)

    return _checked(merged, of_both, sheet, text, sources)


def _spot_of(spots: Mapping[Place, Spot], place: Place) -> Spot | None:
    while place and place not in spots:
        place = place[:-1]
    return spots.get(place)


def _checked(
    tables: Mapping[str, Any], address: Address, sheet: PlanSheet | None, text: str | None, sources: list[Path]
) -> PlanRead:
    problems = [] if sheet is None else sheet.problems
    read = read_tables(tables)
    if problems or read.findings or read.plan is None:
        refused = {_row(one) for one in problems}
        findings = addressed(read.findings, address)
        more = [one for one in findings if one.code != "missing-value" or _row(one) not in refused]  # that is said already
        raise InputError([*problems, *more])
    return PlanRead(read.plan, addressed(examine_tables(tables)[1], address), sheet, text, sources)


def _row(problem: Problem) -> str:
    return problem.where.partition(", column ")[0]


def _same(path: Path, plan: Plan, again: Plan) -> None:
    """Refuse to write what would not be read back as the same plan.

    Raises
    ------
    InputError
        It names the values that differ.
    """
    if plan == again:
        return
    one, other = plan.model_dump(by_alias=True), again.model_dump(by_alias=True)
    problems = [
        Problem(
            subject_of(one, place), f"a value that {path.suffix.lower()} can hold", repr(was),
            f"It would be read back as {now!r}. Change the value, for instance take spaces away from its ends, or use TOML.",
        )
        for place, was, now in _differences(one, other, ())
    ]
    raise InputError([replace(problem, where=str(path)) for problem in problems[:20]])


def _differences(one: Any, other: Any, place: Place) -> Iterator[tuple[Place, Any, Any]]:
    if isinstance(one, Mapping) and isinstance(other, Mapping) and one.keys() == other.keys():
        for key in one:
            yield from _differences(one[key], other[key], (*place, key))
    elif isinstance(one, list | tuple) and isinstance(other, list | tuple) and len(one) == len(other):
        for at, (part, second) in enumerate(zip(one, other, strict=True)):
            yield from _differences(part, second, (*place, at))
    elif one != other:
        yield place, one, other
