"""The carry-over as the start of the next sortie's plan: a plan file that can be checked, and edited from there."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Sequence
from typing import Any

import tomlkit
from tomlkit.items import AoT, Comment, Table, Whitespace

from dashboard import words
from dashboard.core.debrief_facts import Debrief, LeftTask
from dashboard.core.plan import Duration, Plan, Task
from dashboard.core.plancheck import examine_tables
from dashboard.core.problems import Problem
from dashboard.core.projection import project
from dashboard.core.reconcile import reconcile
from dashboard.log.plantext import plan_to_toml, task_table

LEFT_OUT = ("task", "contingency", "alternative")


def carry_over_toml(facts: Debrief, plan: Plan, plan_text: str | None = None) -> tuple[str, list[Problem]] | None:
    """The plan file of what is left; None when nothing is.

    Lanes, suits, worksites, windows and checks are those of the old plan, with its comments where its text is given.
    The tasks stand in the order of the plan of record, laid at the earliest starts that lanes and order allow; what
    came after a task that is done no longer does.

    Parameters
    ----------
    facts : Debrief
    plan : Plan
        The plan of the sortie.
    plan_text : str or None
        Its file. None: it is written from the plan.

    Returns
    -------
    (str, list of Problem) or None
        The text, and what `tetherline check` will say of it.
    """
    if not facts.carry_over:
        return None
    document = tomlkit.parse(plan_text if plan_text is not None else plan_to_toml(plan))
    originals = _originals(document)
    _take_out(document)
    left = _with_starts(plan, [_remaining(one) for one in facts.carry_over])
    sortie: Any = document["sortie"]
    sortie["id"] = f"{facts.sortie}-carry-over"[:60]
    sortie["title"] = f"Carry-over of {facts.title or facts.sortie}"
    if "start" in sortie:
        sortie["start"].comment(f"still that of {facts.sortie}: set the new one, and windows with it")
    tables = tomlkit.aot()
    for task, one in zip(left, facts.carry_over, strict=True):
        tables.append(_task(task, one, originals.get(task.id), facts))
    document.add(tomlkit.nl())
    document["task"] = tables
    text = _head(facts) + tomlkit.dumps(document).lstrip("\n")
    _, findings = examine_tables(tomllib.loads(text))
    return text, [finding.problem for finding in findings]


def _head(facts: Debrief) -> str:
    so_far = " so far: the sortie had not ended" if facts.so_far else ""
    lines = [
        f"Carry-over of sortie {facts.sortie}{so_far}, as of PET {words.pet(facts.pet_min)}.",
        "A start for the next plan, no plan yet:",
        "- the starts are laid end to end at plan pace: set them, and the way out and home around them",
        "- start, limit, suits, windows and checks are those of the old plan; contingencies and alternatives are left out",
        "- links to tasks that are done were taken out, and are named in a comment",
        facts.caution,
    ]
    return "".join(f"# {_one_line(line)}\n" for line in lines) + "\n"


def _originals(document: Any) -> dict[str, Any]:
    """The task tables of the old file by name, those of contingencies included."""
    tables = [*document.get("task", []), *(t for c in document.get("contingency", []) for t in c.get("task", []))]
    return {str(table["id"]): table for table in tables}


def _take_out(document: Any) -> None:
    """Take out what is not carried over, with the comments that head it: they stand at the end of the table before."""
    before: Any = None
    for key, item in list(document.body):
        if key is None:
            continue
        if key.key not in LEFT_OUT:
            before = item
        elif isinstance(before, AoT | Table):
            last = before.body[-1] if isinstance(before, AoT) else before
            _strip_comments(last)
            last.add(tomlkit.nl())
    for key in LEFT_OUT:
        if key in document:
            document.remove(key)


def _strip_comments(table: Any) -> None:
    body = table.value.body
    keys = [item for key, item in body if key is not None]
    if keys and isinstance(keys[-1], Table):
        _strip_comments(keys[-1])
        return
    while body and body[-1][0] is None and isinstance(body[-1][1], Comment | Whitespace):
        body.pop()


def _remaining(one: LeftTask) -> Task:
    """The task with what remains of it, in its last lanes, and without what was of the old day."""
    given, left = one.given, {*one.after_left}
    likely = max(1.0, math.ceil(one.remaining_min - 1e-6))
    scale = likely / given.likely_min if given.likely_min else 1.0
    low = high = likely
    if given.duration.high > given.duration.low:
        low, high = (math.floor(given.duration.low * scale), math.ceil(given.duration.high * scale))
    exact = given.duration.exact
    shortest = None if given.shortest is None else min(given.shortest, likely)
    return given.model_copy(
        update={
            "duration": Duration(low=min(low, likely), likely=likely, high=max(high, likely), exact=exact),
            "shortest": shortest,
            "lanes": tuple(one.lanes),
            "can_move_to": tuple(lane for lane in given.can_move_to if lane not in one.lanes),
            "after": tuple(name for name in given.after if name in left),
            "follows": tuple(follow for follow in given.follows if follow.task in left),
            "start": None,
            "not_before": None,
        }
    )


def _with_starts(plan: Plan, tasks: Sequence[Task]) -> list[Task]:
    """The tasks with the starts of a projection at plan pace from PET zero; get-aheads have none."""
    placed = [task if task.get_ahead else task.model_copy(update={"start": 0.0}) for task in tasks]
    alone = plan.model_copy(update={"tasks": tuple(placed), "contingencies": (), "alternatives": ()})
    slots = project(reconcile(alone, [], plan.sortie.start)).slots
    return [
        task.model_copy(update={"start": slots[task.id].start_pet_min if task.id in slots else 0.0})
        if task.start is not None else task
        for task in placed
    ]


def _task(task: Task, one: LeftTask, original: Any, facts: Debrief) -> Any:
    """The table of a task: as it stood, with its comments, and what has changed."""
    was, wanted = task_table(one.given) if original is not None else {}, task_table(task)
    table = original if original is not None else tomlkit.table()
    _strip_comments(table)
    for key in was.keys() - wanted.keys():
        table.remove(key)
    for key, value in wanted.items():
        if key not in was or was[key] != value:
            table[key] = _value(value)
            table[key].trivia.comment = table[key].trivia.comment_ws = ""
    lines = [f"{one.because}: {one.why}" if one.why not in (one.because, "") else one.because]
    lines[0] += f" on {facts.sortie}; remains {words.duration(one.remaining_min, 'up')} ({one.remaining_from})"
    if one.after_done:
        lines.append(f"came after {', '.join(one.after_done)}, done on {facts.sortie}")
    if one.given.not_before is not None:
        lines.append(f"was not to begin before PET {words.pet(one.given.not_before)}")
    for line in lines:
        table.add(tomlkit.comment(_one_line(line)))
    return table


def _value(value: Any) -> Any:
    if isinstance(value, list) and value and isinstance(value[0], dict):
        parts = tomlkit.array()
        for part in value:
            inline = tomlkit.inline_table()
            inline.update(part)
            parts.append(inline)
        return parts
    return value


def _one_line(text: str) -> str:
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
