"""Starts a plan: from a few answers, or from the tasks of a sheet that has no other table.

1. Lanes are known by their names where nobody says what they are: ``EV1`` and the like are crew, a name with ``arm`` in
   it is an arm.
2. Tasks that are typed one after the other begin as soon as their lanes are free. So do those of a sheet without starts.
3. A plan without a task gets two stand-ins, the way out and the way in.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

from dashboard.core.base.problems import InputError, Problem
from dashboard.core.plan.check import examine_tables
from dashboard.core.plan.fields import read_tables
from dashboard.core.plan.model import Duration, Plan, Sortie
from dashboard.core.schedule.in_order import begun_in_order
from dashboard.log.plan_files import PlanRead, join_sheet
from dashboard.log.plan_sheet import HowToRead, PlanSheet, read_plan_sheet
from dashboard.log.plan_sheet_cells import plan_value
from dashboard.log.plan_sheet_columns import CONTINGENCY
from dashboard.log.plantext import item_table
from dashboard.log.textfile import refusal

CREW = ("EV1", "EV2")
TASK_FORM = "'TITLE; LANES; MINUTES', for instance 'Carry bags; EV1 EV2; 20/25/40'"
STAND_INS = (("Out of the airlock (stand-in)", 15), ("Back into the airlock (stand-in)", 30))
_CREW_NAME = re.compile(r"^(?:EV|CM|crew)[-_]?\d*$", re.IGNORECASE)


class Answers(NamedTuple):
    """What a person says of a new sortie.

    Parameters
    ----------
    id, title : str
        Name and title; the title may be empty.
    start : str
        The planned PET zero, an instant in UTC.
    limit, reserve : str
        PET and minutes, as in a plan file; an empty reserve means none.
    crew, arms : sequence of str
        Names of the lanes. Empty for a sheet: its lanes are known by their names.
    """

    id: str
    title: str
    start: str
    limit: str
    reserve: str = ""
    crew: Sequence[str] = ()
    arms: Sequence[str] = ()


def typed_task(text: str, number: int) -> dict[str, Any]:
    """Read a task that a person typed.

    Parameters
    ----------
    text
        In the form of `TASK_FORM`; a worksite may follow as a fourth part.
    number
        How many tasks there are with this one; it gives the id.

    Returns
    -------
    dict
        The task as a table of a plan file, without its start.

    Raises
    ------
    ValueError
        When the text has another form; the message is ``<expected>, not <found>``.
    """
    parts = [part.strip() for part in text.split(";")]
    if len(parts) not in (3, 4) or not all(parts):
        raise ValueError(f"{TASK_FORM}, not '{text}'")
    title, lanes, length, *site = parts
    duration = plan_value("duration", length).value
    try:
        Duration.model_validate(duration)
    except ValueError:
        raise ValueError(f"minutes such as 40, 1h30 or 30/40/65, not '{length}'") from None
    task = {"id": f"T{number * 10:03d}", "title": title, "lanes": plan_value("lanes", lanes).value, "duration": duration}
    return {**task, "worksite": site[0]} if site else task


def plan_of_answers(answers: Answers, tasks: Sequence[dict[str, Any]] = ()) -> Plan:
    """Start a plan from answers.

    Parameters
    ----------
    answers
        What a person says of the sortie.
    tasks
        Tasks without a start, from `typed_task`. Without any the plan gets stand-ins.

    Returns
    -------
    Plan
        Its tasks begin as soon as their lanes are free.

    Raises
    ------
    InputError
        When an answer cannot be used.
    """
    crew = [*(answers.crew or CREW)]
    if not tasks:
        tasks = [
            {"id": f"T{(at + 1) * 10:03d}", "title": title, "lanes": crew, "duration": minutes, "required": True}
            for at, (title, minutes) in enumerate(STAND_INS)
        ]
    tables = _tables(answers, _lanes(crew, answers.arms, (name for task in tasks for name in task["lanes"])), tasks)
    plan = _plan({**tables, "task": list(tasks)})
    return plan.model_copy(update={"tasks": begun_in_order(plan)})


def plan_of_sheet(path: Path, answers: Answers, how: HowToRead) -> PlanRead:
    """Start a plan from a sheet of tasks.

    Parameters
    ----------
    path
        CSV or XLSX with tasks only.
    answers
        What a person says of the sortie.
    how
        What a person says of the sheet.

    Returns
    -------
    PlanRead
        Its lanes, worksites and contingencies are those that the tasks name.

    Raises
    ------
    InputError
        When the sheet or an answer cannot be used.
    """
    sheet = read_plan_sheet(path, how, {*answers.crew, *answers.arms})
    tasks = sheet.tasks
    if not tasks:
        found = "headings without a row of a task below them"
        raise refusal(path, "a sheet with at least one task", found, "Write one row per task.")
    if not sheet.problems and not any(task.get("lanes") for task in tasks):
        raise refusal(
            path, "a column that says which lanes do a task, such as 'lanes' or 'crew'",
            f"the columns {', '.join(filter(None, sheet.table.columns))}", "Name the column: --columns lanes=...",
        )  # fmt: skip
    named = (name for task in tasks for name in task.get("lanes", ()))
    tables = _tables(answers, _lanes(answers.crew, answers.arms, named), tasks)
    names = dict.fromkeys(task[CONTINGENCY] for task in tasks if CONTINGENCY in task)
    if names:
        tables[CONTINGENCY] = [{"id": name} for name in names]
    _check_answers(tables)
    read = join_sheet(path, tables, how)
    return read if read.sheet is None or "start" in read.sheet.keys else _with_starts(read, read.sheet)


def _with_starts(read: PlanRead, sheet: PlanSheet) -> PlanRead:
    """The plan of a sheet without starts: they come from the order of its rows."""
    sheet.remarks.append("No column holds starts: each task begins as soon as its lanes are free, in the order of the rows.")
    findings = [one for one in read.findings if one.code != "no-start"]
    return replace(read, plan=read.plan.model_copy(update={"tasks": begun_in_order(read.plan)}), findings=findings)


def with_answers(plan: Plan, answers: Answers) -> Plan:
    """Put what was said of the sortie into a plan.

    Parameters
    ----------
    plan
        Any plan.
    answers
        An empty one changes nothing.

    Returns
    -------
    Plan
        With the name, title, start, limit and reserve that were given.

    Raises
    ------
    InputError
        When an answer cannot be used.
    """
    said = {key: value for key in Sortie.model_fields if (value := getattr(answers, key, ""))}
    checked = _check_answers({"sortie": {**item_table(plan.sortie), **said}})
    return plan.model_copy(update={"sortie": checked.sortie})


def problem_of_answer(key: str, value: str) -> Problem | None:
    """Find what is wrong with one answer, whatever the others are.

    Parameters
    ----------
    key
        A key of the table `[sortie]`.
    value
        The answer.

    Returns
    -------
    Problem or None
        None: it can be used.
    """
    try:
        _check_answers({"sortie": {"id": "sortie", "start": "2031-01-01T00:00:00Z", "limit": "7:00", key: value}})
    except InputError as wrong:
        return wrong.problems[0]
    return None


def _check_answers(tables: dict[str, Any]) -> Plan:
    """A plan with these answers and a stand-in for its task: answers that cannot be used are refused."""
    stand_in = {"id": "T", "lanes": ["?"], "start": 0, "duration": 0}
    return _plan({"sortie": tables["sortie"], "lane": tables.get("lane", [{"id": "?", "kind": "crew"}]), "task": [stand_in]})


def _plan(tables: dict[str, Any]) -> Plan:
    read = read_tables(tables)
    if read.plan is None or read.findings:
        raise InputError([finding.problem for finding in (read.findings or examine_tables(tables)[1])])
    return read.plan


def _lanes(crew: Iterable[str], arms: Iterable[str], named: Iterable[str]) -> list[dict[str, Any]]:
    """The lanes: those that are given, and those that the tasks name, by their names."""
    kinds = {**dict.fromkeys(crew, "crew"), **dict.fromkeys(arms, "arm")}
    given = "crew" in kinds.values()
    for name in named:
        by_name = "crew" if _CREW_NAME.match(name) and not given else "arm" if "arm" in name.casefold() else "other"
        kinds.setdefault(name, by_name)
    return [{"id": name, "kind": kind} for name, kind in kinds.items()]


def _tables(answers: Answers, lanes: list[dict[str, Any]], tasks: Iterable[dict[str, Any]]) -> dict[str, Any]:
    sortie = {"id": answers.id, "title": answers.title, "start": answers.start, "limit": answers.limit}
    if answers.reserve:
        sortie["reserve"] = answers.reserve
    tables: dict[str, Any] = {"sortie": sortie, "lane": lanes}
    sites = dict.fromkeys(site for task in tasks for site in (task.get("worksite"), task.get("leg")) if site)
    if sites:
        tables["worksite"] = [{"id": site} for site in sites]
    return tables


def lanes_in_words(plan: Plan) -> str:
    """Say what each lane was taken as.

    Parameters
    ----------
    plan
        A new plan.

    Returns
    -------
    str
        Such as ``EV1 crew, ARM arm``.
    """
    return ", ".join(f"{lane.id} {lane.kind}" for lane in plan.lanes)


def problem_of(option: str, wrong: ValueError) -> Problem:
    """Make the problem of an answer that cannot be read.

    Parameters
    ----------
    option
        The option that gives it.
    wrong
        Its message is ``<expected>, not <found>``.

    Returns
    -------
    Problem
        To be shown, or raised.
    """
    expected, _, found = str(wrong).rpartition(", not ")
    return Problem(f"option {option}", expected, found, "Correct it.")
