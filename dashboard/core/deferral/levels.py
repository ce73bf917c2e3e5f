"""Levels of giving up: level 0 of a task is whole, then come shorter lengths in whole minutes, and the last may be out.

A `Selection` names the level of each task; `change_of` turns it into a change of the plan of record. The search works on
levels because giving up more is then a larger number for every task.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from dashboard.core.deferral.items import SECONDS, Deferral, RemainingTask
from dashboard.core.deferral.sense import GoesWith, closed_under, comes_back_with
from dashboard.core.events.change import Change

LOSS_SCALE = 1_000_000


class Level(NamedTuple):
    """One level of one task.

    Parameters
    ----------
    loss : int
        Value lost, in units of 1 / `LOSS_SCALE`.
    length_min : float or None
        New whole length of a trimmed task; None when the task is whole or out.
    out : bool
        The task is deferred or broken off.
    """

    loss: int
    length_min: float | None
    out: bool


@dataclass(frozen=True)
class TaskLevels:
    """All levels of one task, from whole to as little as the plan allows; the loss grows from level to level.

    Parameters
    ----------
    breaks_off : bool
        The task has begun: at its last level it is broken off, not deferred.
    moves : tuple of str
        Lanes that it can be handed to.
    """

    id: str
    priority: int
    levels: tuple[Level, ...]
    breaks_off: bool
    moves: tuple[str, ...]

    @property
    def last(self) -> int:
        """The level that gives up most."""
        return len(self.levels) - 1


@dataclass(frozen=True)
class Selection:
    """The level of each task that is not whole, and the new lane of each task that is handed over."""

    levels: Mapping[str, int]
    lanes: Mapping[str, str]

    def level(self, task_id: str) -> int:
        """Level of a task.

        Parameters
        ----------
        task_id
            A remaining task.

        Returns
        -------
        int
            0 when the task is whole.
        """
        return self.levels.get(task_id, 0)


def levels_of(problem: Deferral, most_trims: int | None = None) -> dict[str, TaskLevels]:
    """Levels of every remaining task, by name.

    Parameters
    ----------
    problem : Deferral
    most_trims : int, optional
        The largest number of shorter lengths per task, evenly spread; None: every whole minute.

    Returns
    -------
    dict of str to TaskLevels
        In the order of the problem.
    """
    return {
        item.id: TaskLevels(
            item.id, item.priority, tuple(_levels(item, most_trims)), item.closeout_s is not None, item.moves
        )
        for item in problem.items
    }


def _levels(item: RemainingTask, most_trims: int | None) -> Iterable[Level]:
    yield Level(0, None, False)
    if item.least_s < item.length_s:
        for length in _spread(list(_whole_minutes(item)), most_trims):
            cut_s = item.worked_s + item.length_s - length * SECONDS
            yield Level(round(item.loss_per_s * cut_s * LOSS_SCALE), length, False)
    if item.may_defer:
        yield Level(round(item.value * LOSS_SCALE), None, True)
    elif item.closeout_s is not None:
        yield Level(round(item.broken_off_loss * LOSS_SCALE), None, True)


def _spread(lengths: list[float], most: int | None) -> list[float]:
    """At most `most` of the lengths, evenly spread; the shortest length is always among them."""
    if most is None or len(lengths) <= most:
        return lengths
    return [lengths[(i + 1) * len(lengths) // most - 1] for i in range(most)]


def _whole_minutes(item: RemainingTask) -> Iterable[float]:
    """New whole lengths in whole minutes, from the longest below the present length down to the shortest allowed."""
    longest, shortest = (item.worked_s + item.length_s) / SECONDS, (item.worked_s + item.least_s) / SECONDS
    first, last = math.ceil(longest - 1e-6) - 1, math.ceil(shortest - 1e-6)
    yield from (float(minutes) for minutes in range(first, last - 1, -1))
    if last > shortest + 1e-6:
        yield shortest


def change_of(tasks: Mapping[str, TaskLevels], selection: Selection, choose: Mapping[str, str]) -> Change:
    """The change of the plan of record that a selection describes.

    Parameters
    ----------
    tasks
        Task -> its levels.
    selection
        A level for each task that is not whole.
    choose
        Alternative -> option, for the options that are taken.

    Returns
    -------
    Change
        Without a new order.
    """
    change = Change(move=dict(selection.lanes), choose=choose)
    trim: dict[str, float] = {}
    out: list[str] = []
    for task_id, task in tasks.items():
        level = task.levels[selection.level(task_id)]
        if level.out:
            out.append(task_id)
        elif level.length_min is not None:
            trim[task_id] = level.length_min
    return change.but(trim=trim, defer=tuple(t for t in out if not tasks[t].breaks_off),
        break_off=tuple(t for t in out if tasks[t].breaks_off),
    )


def tasks_out(tasks: Mapping[str, TaskLevels], selection: Selection) -> set[str]:
    """The tasks that a selection defers or breaks off.

    Parameters
    ----------
    tasks
        Task -> its levels.
    selection
        A level for each task that is not whole.

    Returns
    -------
    set of str
        Trimmed tasks are not among them.
    """
    return {task_id for task_id, level in selection.levels.items() if tasks[task_id].levels[level].out}


def with_all_that_goes_along(
    tasks: Mapping[str, TaskLevels], sense: Sequence[GoesWith], selection: Selection, task_id: str
) -> Selection:
    """The selection with one more task out, and with all that goes along by the rules of sense.

    Parameters
    ----------
    tasks
        Task -> its levels.
    sense
        The rules.
    selection
        A level for each task that is not whole.
    task_id
        A task that may go.

    Returns
    -------
    Selection
        The same selection when a task that would go along may not go.
    """
    before = tasks_out(tasks, selection)
    goes = closed_under(sense, {*before, task_id}) - before
    if not all(tasks[t].levels[-1].out for t in goes):
        return selection
    lanes = {t: lane for t, lane in selection.lanes.items() if t not in goes}
    return Selection({**selection.levels, **{t: tasks[t].last for t in goes}}, lanes)


def with_task_back(
    tasks: Mapping[str, TaskLevels], sense: Sequence[GoesWith], selection: Selection, task_id: str
) -> Selection:
    """The selection with one task done whole, and with all whole that it needs.

    Parameters
    ----------
    tasks
        Task -> its levels.
    sense
        The rules.
    selection
        A level for each task that is not whole.
    task_id
        A remaining task.

    Returns
    -------
    Selection
        It gives up no more than the selection.
    """
    back = comes_back_with(sense, tasks_out(tasks, selection), task_id)
    return Selection({t: level for t, level in selection.levels.items() if t not in back}, selection.lanes)
