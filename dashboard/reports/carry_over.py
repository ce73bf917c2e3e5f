"""Writes the carry-over as a plan file, from which the plan of the next sortie can be made."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Set
from typing import Any

import tomlkit
from tomlkit.items import AoT, Comment, Table, Whitespace

from dashboard import words
from dashboard.core.base.problems import Problem
from dashboard.core.debrief.facts import Debrief, LeftTask
from dashboard.core.plan.check import examine_tables
from dashboard.core.plan.model import Alternative, Contingency, Duration, Plan, Task
from dashboard.core.schedule.in_order import begun_in_order
from dashboard.log.plantext import item_table, plan_to_toml

LEFT_OUT = ("task", "contingency", "alternative")


def carry_over_toml(facts: Debrief, plan: Plan, plan_text: str | None = None) -> tuple[str, list[Problem]] | None:
    """The plan file of the tasks that are left.

    Lanes, suits, worksites, windows and checks are those of the old plan; its comments are kept if its text is given. The
    tasks come in the order of the plan of record, with the earliest starts that lanes and order allow. Links to tasks that
    are not carried over are removed. The contingencies and alternatives that are still open follow, together with the tasks of
    options that are not in force.

    Parameters
    ----------
    facts : Debrief
    plan : Plan
        The plan of the sortie.
    plan_text : str or None
        The text of its file. None: the text is written from the plan.

    Returns
    -------
    (str, list of Problem) or None
        The text, and the problems that `tetherline check` will find in it. None when nothing is left.
    """
    if not facts.carry_over:
        return None
    document = tomlkit.parse(plan_text if plan_text is not None else plan_to_toml(plan))
    originals, opened = _originals(document), _opened(document)
    _take_out(document)
    new = _new_plan(facts, plan)
    sortie: Any = document["sortie"]
    sortie["id"] = f"{facts.sortie}-carry-over"[:60]
    sortie["title"] = f"Carry-over of {'a rehearsal of ' if facts.rehearsal else ''}{facts.title or facts.sortie}"
    if "start" in sortie:
        sortie["start"].comment(f"start of {facts.sortie}: set the new one, and move the windows with it")
    left = {one.task: one for one in facts.carry_over}
    tables = {
        "task": [_task(task, left.get(task.id), originals, facts) for task in new.tasks],
        "contingency": [_contingency(one, opened[one.id]) for one in new.contingencies],
        "alternative": [_alternative(one, opened[one.id]) for one in new.alternatives],
    }
    for key, items in tables.items():
        if items:
            document.add(tomlkit.nl())
            document[key] = tomlkit.aot()
            for item in items:
                document[key].append(item)
    text = _head(facts) + tomlkit.dumps(document).lstrip("\n")
    _, findings = examine_tables(tomllib.loads(text))
    return text, [finding.problem for finding in findings]


def _head(facts: Debrief) -> str:
    so_far = " so far: the sortie had not ended" if facts.so_far else ""
    lines = [
        *([f"{facts.rehearsal}."] if facts.rehearsal else []),
        f"Carry-over of sortie {facts.sortie}{so_far}, as of PET {words.pet(facts.pet_min)}.",
        "This is a start for the next plan, not a finished plan:",
        "- the starts are the earliest possible at plan pace: set them, and add the ways out and back",
        "- start, limit, suits, windows and checks are those of the old plan",
        "- contingencies and alternatives are those of the old plan that are still open, or that concern the tasks left",
        "- links to tasks that are done were removed, and are named in a comment",
        facts.caution,
    ]
    return "".join(f"# {_one_line(line)}\n" for line in lines) + "\n"


def _originals(document: Any) -> dict[str, Any]:
    """The task tables of the old file by name, those of contingencies included."""
    tables = [*document.get("task", []), *(t for c in document.get("contingency", []) for t in c.get("task", []))]
    return {str(table["id"]): table for table in tables}


def _opened(document: Any) -> dict[str, Any]:
    """The tables of contingencies and alternatives of the old file by name."""
    return {str(table["id"]): table for key in ("contingency", "alternative") for table in document.get(key, [])}


def _take_out(document: Any) -> None:
    """Remove the tables that are not carried over and the comments above them, which TOML Kit keeps in the table before."""
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
    if keys and isinstance(keys[-1], Table | AoT):
        _strip_comments(keys[-1] if isinstance(keys[-1], Table) else keys[-1].body[-1])
        return
    while body and body[-1][0] is None and isinstance(body[-1][1], Comment | Whitespace):
        body.pop()


def _remaining(one: LeftTask) -> Task:
    """The task with its remaining length, in its last lanes."""
    given = one.given
    likely = max(1.0, math.ceil(one.remaining_min - 1e-6))
    scale = likely / given.likely_min if given.likely_min else 1.0
    low = high = likely
    if given.duration.high > given.duration.low:
        low, high = (math.floor(given.duration.low * scale), math.ceil(given.duration.high * scale))
    exact = given.duration.exact
    return given.model_copy(
        update={
            "duration": Duration(low=min(low, likely), likely=likely, high=max(high, likely), exact=exact),
            "shortest": _shortest(one, likely),
            "lanes": tuple(one.lanes),
            "can_move_to": _other_lanes(one),
        }
    )


def _other_lanes(one: LeftTask) -> tuple[str, ...]:
    """The lanes that the task can be handed to. For a task that was handed over, they include its briefed lane."""
    handed_over = len(one.given.lanes) == len(one.lanes) == 1
    briefed = one.given.lanes if handed_over else ()
    return tuple(lane for lane in dict.fromkeys((*briefed, *one.given.can_move_to)) if lane not in one.lanes)


def _shortest(one: LeftTask, likely: float) -> float | None:
    """The shortest useful length less the work done, at least one minute; in full if the briefed length is used again."""
    if one.given.shortest is None:
        return None
    done_min = 0.0 if one.remaining_from == "briefed length again" else one.worked_min
    return min(max(1.0, math.ceil(one.given.shortest - done_min - 1e-6)), likely)


def _new_plan(facts: Debrief, plan: Plan) -> Plan:
    """The old plan with only the tasks that are left, and with the contingencies and alternatives that are open."""
    left, still = [_remaining(one) for one in facts.carry_over], facts.left_open
    alternatives = [
        one.model_copy(update={"default": still.alternatives[one.id]})
        for one in plan.alternatives if one.id in still.alternatives
    ]
    in_force = {name for one in alternatives for name in one.options[one.default]}
    others = [
        name for one in alternatives for names in one.options.values() for name in names if name not in in_force
    ]
    contingencies = [one for one in plan.contingencies if one.id in still.contingencies]
    briefed = {task.id: task for task in [*plan.tasks, *left]}
    named = [task.id for task in left]
    named += [name for name in dict.fromkeys(others) if name not in named]
    steps = {task.id for one in contingencies for task in one.tasks}
    tasks = [_unlinked(briefed[name], set(named), set(named)) for name in named]
    bare = plan.model_copy(update={
        "tasks": tuple(tasks),
        "contingencies": tuple(_open_contingency(one, {*named, *steps}) for one in contingencies),
        "alternatives": tuple(_open_alternative(one, set(named)) for one in alternatives),
    })
    return bare.model_copy(update={"tasks": begun_in_order(bare, set(others))})


def _unlinked(task: Task, after: Set[str], follows: Set[str]) -> Task:
    """The task without links to tasks that are not carried over, and without the times of the old sortie."""
    return task.model_copy(update={
        "after": tuple(name for name in task.after if name in after),
        "follows": tuple(follow for follow in task.follows if follow.task in follows),
        "start": None,
        "not_before": None,
    })


def _open_contingency(one: Contingency, known: Set[str]) -> Contingency:
    tasks = tuple(_unlinked(task, known, known) for task in one.tasks)
    return one.model_copy(update={"hold": tuple(name for name in one.hold if name in known), "tasks": tasks})


def _open_alternative(one: Alternative, known: Set[str]) -> Alternative:
    options = {option: tuple(name for name in names if name in known) for option, names in one.options.items()}
    return one.model_copy(update={"options": options})


def _task(task: Task, one: LeftTask | None, originals: Mapping[str, Any], facts: Debrief) -> Any:
    """The table of a task: the old table with its comments, updated. `one` is None for tasks of options not in force."""
    table = originals.get(task.id, tomlkit.table())
    _strip_comments(table)
    _update(table, task)
    if one is None:
        table.add(tomlkit.comment(_one_line(f"not begun on {facts.sortie}: belongs to an option that is not in force")))
        return table
    lines = [f"{one.because}: {one.why}" if one.why not in (one.because, "") else one.because]
    lines[0] += f" on {facts.sortie}; remains {words.duration(one.remaining_min, 'up')} ({one.remaining_from})"
    if one.worked_min > 0:
        lines.append(f"worked on for {words.duration(one.worked_min, 'down')} on {facts.sortie}")
    if one.after_done:
        lines.append(f"came after {', '.join(one.after_done)}, done on {facts.sortie}")
    if one.given.not_before is not None:
        lines.append(f"was not to begin before PET {words.pet(one.given.not_before)}")
    for line in lines:
        table.add(tomlkit.comment(_one_line(line)))
    return table


def _update(table: Any, task: Task) -> None:
    """Write the task into its table. Keys that already have the right value are left unchanged."""
    wanted = item_table(task)
    was = item_table(Task.model_validate(table.unwrap())) if table else {}
    for key in was.keys() - wanted.keys():
        table.remove(key)
    for key, value in wanted.items():
        if key not in was or was[key] != value:
            table[key] = _value(value)
            table[key].trivia.comment = table[key].trivia.comment_ws = ""


def _contingency(one: Contingency, table: Any) -> Any:
    """The old table of a contingency, without names of tasks that are not carried over."""
    _strip_comments(table)
    if list(table.get("hold", [])) != list(one.hold):
        table["hold"] = list(one.hold)
    for step, task in zip(table.get("task", []), one.tasks, strict=True):
        _update(step, task)
    return table


def _alternative(one: Alternative, table: Any) -> Any:
    """The old table of an alternative with the option in force, without names of tasks that are not carried over."""
    _strip_comments(table)
    if table["default"] != one.default:
        table["default"] = one.default
    for option, names in one.options.items():
        if list(table["options"][option]) != list(names):
            table["options"][option] = list(names)
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
