"""Writes learned durations into a plan file. Comments, order and everything else are kept."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

import pandas as pd
import tomlkit
from tomlkit.items import Table

from dashboard.core.plan.model import Plan, Task
from dashboard.log.plantext import clock_value, minutes_value


class NewPlan(NamedTuple):
    """The text of the new plan file; and why tasks kept their briefed duration although one was learned, by task."""

    text: str
    kept: dict[str, str]


def with_learned(text: str, plan: Plan, table: pd.DataFrame, heading: str) -> NewPlan:
    """Write learned durations into a plan file.

    Briefed starts become later where a longer task would overlap the next task of its lanes or a task that comes after it.
    No start becomes earlier. A task whose learned likely duration is below its `shortest` keeps its briefed duration.

    Parameters
    ----------
    text : str
        The plan file.
    plan : Plan
        The plan in it.
    table : DataFrame
        From `replay.learn.learned_table`.
    heading : str
        Lines for a comment at the top.

    Returns
    -------
    NewPlan
    """
    document = tomlkit.parse(text)
    learned = table.dropna(subset=["learned_likely"]).set_index("task")
    durations, kept = {}, {}
    for task_id, row in learned.iterrows():
        task = plan.all_tasks()[str(task_id)]
        points = [minutes_value(float(row[f"learned_{part}"])) for part in ("low", "likely", "high")]
        if task.shortest is not None and points[1] < task.shortest:
            kept[task.id] = f"learned likely {points[1]:g} min is under its shortest of {task.shortest:g} min"
        else:
            durations[task.id] = points
    starts = moved_starts(plan, {task_id: float(points[1]) for task_id, points in durations.items()})
    for one in _task_tables(document):
        task_id = str(one.get("id"))
        if task_id in durations:
            one["duration"] = durations[task_id]
        if task_id in starts:
            one["start"] = clock_value(starts[task_id])
    lines = "".join(f"# {line}\n" for line in heading.splitlines())
    return NewPlan(f"{lines}\n{tomlkit.dumps(document)}", kept)


def moved_starts(plan: Plan, likely_min: Mapping[str, float]) -> dict[str, float]:
    """The tasks that must start later than briefed.

    Parameters
    ----------
    plan : Plan
    likely_min : mapping of str to float
        New likely length of tasks, minutes.

    Returns
    -------
    dict of str to float
        New starts, in whole PET minutes.
    """
    moved: dict[str, float] = {}
    over: dict[str, float] = {}
    free: dict[str, list[tuple[str, float]]] = {}
    option = {
        task_id: (a.id, name)
        for a in plan.alternatives
        for name, task_ids in a.options.items()
        for task_id in task_ids
    }
    for task in sorted((t for t in plan.tasks if t.start is not None), key=lambda t: t.start or 0.0):
        start = _earliest(task, over, [one for lane in task.lanes for one in free.get(lane, [])], option)
        start = max(task.start or 0.0, float(-(-start // 1)))
        if start > (task.start or 0.0):
            moved[task.id] = start
        over[task.id] = start + likely_min.get(task.id, task.likely_min)
        for lane in task.lanes:
            free.setdefault(lane, []).append((task.id, over[task.id]))
    return moved


def _earliest(
    task: Task,
    over: Mapping[str, float],
    before: list[tuple[str, float]],
    option: Mapping[str, tuple[str, str]],
) -> float:
    """The finish of everything before the task, PET minutes. Options of one alternative do not wait for each other."""
    mine = option.get(task.id)
    apart = [
        end
        for other, end in before
        if not (mine and (theirs := option.get(other)) and theirs[0] == mine[0] and theirs != mine)
    ]
    waits = [over[other] for other in task.after if other in over]
    waits += [over[f.task] + f.lag for f in task.follows if f.task in over]
    return max([*apart, *waits], default=0.0)


def _task_tables(document: Any) -> Iterator[Table]:
    yield from document.get("task", [])
    for contingency in document.get("contingency", []):
        yield from contingency.get("task", [])
