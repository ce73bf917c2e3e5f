"""The values and labels that the entry form offers. The most likely ones in the current state come first."""

from __future__ import annotations

import math
from collections.abc import Iterable

from dashboard import words
from dashboard.core.events.extend import may_be_extended
from dashboard.core.plan.model import Contingency, Plan, Task
from dashboard.core.state.model import SortieState, TaskState

# Each entry: value, label, and if the offer depends on another field the value of that field.
Offer = list[list[str]]

_IN_HAND_FIRST = ("in work", "on hold", "not started")
_STARTABLE_FIRST = ("not started", "on hold", "in work")


def choices_of(plan: Plan, state: SortieState) -> dict[str, Offer]:
    """The offers of every source that a form field can name.

    Late and unusual entries must be possible, so fields about work offer every task. Changes that the plan of record does
    not allow (such as trimming a task that may not be trimmed) are not offered.

    Parameters
    ----------
    plan : Plan
    state : SortieState

    Returns
    -------
    dict of str to list
        By source. Each entry is a list of value, label, and optionally the value of the field it depends on.
    """
    tasks, briefed = _tasks(state, _IN_HAND_FIRST), _briefed(plan)
    waiting = _labelled((t, one) for t, one in state.tasks.items() if one.state == "not started" and one.in_plan)
    return {
        "tasks": tasks,
        "to_start": _tasks(state, _STARTABLE_FIRST),
        "in_hand": _labelled((t, one) for t, one in state.tasks.items() if one.state in ("in work", "on hold")),
        "before": waiting,
        "movable": [pair for pair in waiting if len(state.tasks[pair[0]].lanes) == 1],
        "can_move_to": [[lane, lane, t] for t, task in briefed.items() if t in state.tasks
                        for lane in task.can_move_to if lane not in state.tasks[t].lanes],
        "deferred": _labelled((t, one) for t, one in state.tasks.items() if one.state == "deferred"),
        "trimmable": _trimmable(state, briefed),
        "extendable": _extendable(state, briefed),
        "lanes": [[name, name] for name in state.lanes],
        "scopes": [["all", "everything"], *([f"lane:{n}", f"lane {n}"] for n in state.lanes),
                   *([f"task:{value}", label] for value, label in tasks)],
        "held": _held(state),
        "suits": [[name, f"suit {name}, {', '.join(suit.lanes)}"] for name, suit in state.suits.items()],
        "checks": [[check.id, check.title or check.id] for check in plan.checks],
        "contingencies": [[c.id, _contingency(c, state)] for c in plan.contingencies],
        "end_words": [["", "the sortie is over, the airlock repressurised. Nothing is projected any more."]],
        "hold_words": [["all", "everything is put on hold: all work in every lane stops."]],
        "insert_words": [[c.id, _inserted(c, state)] for c in plan.contingencies],
        "alternatives": [[a.id, f"{a.title or a.id} ({'open' if a.id in state.alternatives_open else 'taken'}: "
                                f"{state.alternatives.get(a.id, a.default)})"] for a in plan.alternatives],
        "options": [[o, f"{o}: {', '.join(named(t, state) for t in tasks_)}", a.id]
                    for a in plan.alternatives for o, tasks_ in a.options.items()],
        "new_task": [[_free_name(state), ""]],
        "required": [[t, f"{t} is required"] for t, one in state.tasks.items() if one.required],
        "kept": _kept(state, briefed),
        "longer": [[t, f"{math.floor(one.planned_min) + 1}"] for t, one in state.tasks.items()],
        "shortest": [[t, f"{task.shortest:g}"] for t, task in briefed.items() if task.shortest is not None],
        "readings": [[f"{name} {c}", f"{one.loaded:g}", "" if one.reading is None else f"{one.reading:g}"]
                     for name, suit in state.suits.items() for c, one in suit.consumables.items()],
    }  # fmt: skip


def named(task_id: str, state: SortieState) -> str:
    """A task by its id and title.

    Parameters
    ----------
    task_id
        Id of the task.
    state
        It gives the title.

    Returns
    -------
    str
        The id alone when the state does not hold the task.
    """
    task = state.tasks.get(task_id)
    return f"{task_id} {task.title}".strip() if task is not None else task_id


def _labelled(tasks: Iterable[tuple[str, TaskState]]) -> Offer:
    return [[task_id, f"{task_id} {task.title} ({task.state}, {', '.join(task.lanes)})"] for task_id, task in tasks]


def _tasks(state: SortieState, order: tuple[str, ...]) -> Offer:
    first = {word: place for place, word in enumerate(order)}
    return _labelled(sorted(state.tasks.items(), key=lambda item: first.get(item[1].state, len(first))))


def _briefed(plan: Plan) -> dict[str, Task]:
    return {task.id: task for task in [*plan.tasks, *(t for c in plan.contingencies for t in c.tasks)]}


_NOT_OVER = ("not started", "in work", "on hold")


def _extendable(state: SortieState, briefed: dict[str, Task]) -> Offer:
    return [
        [task_id, f"{named(task_id, state)} ({words.duration(one.planned_min)})"] for task_id, one in state.tasks.items()
        if task_id in briefed and may_be_extended(briefed[task_id]) and one.in_plan and one.state in _NOT_OVER
    ]


def _trimmable(state: SortieState, briefed: dict[str, Task]) -> Offer:
    found = []
    for task_id, one in state.tasks.items():
        shortest = briefed[task_id].shortest if task_id in briefed else None
        if shortest is not None and one.in_plan and one.state in _NOT_OVER:
            label = f"{named(task_id, state)} ({words.duration(one.planned_min)}, useful from {words.duration(shortest, 'up')})"
            found.append([task_id, label])
    return found


def _held(state: SortieState) -> Offer:
    """What can be resumed: everything, each lane on hold, each task on hold with its reason."""
    lanes = [[f"lane:{name}", f"lane {name}"] for name, lane in state.lanes.items() if lane.held]
    tasks = [
        [f"task:{task_id}", f"{named(task_id, state)}{f': {one.hold_reason}' if one.hold_reason else ''}"]
        for task_id, one in state.tasks.items() if one.state == "on hold"
    ]
    return [["all", "everything that was held as a whole"], *lanes, *tasks] if lanes or tasks else []


def _contingency(contingency: Contingency, state: SortieState) -> str:
    said = f"{contingency.id}: {contingency.trigger or contingency.title}"
    return f"{said} (inserted already)" if state.contingencies.get(contingency.id) else said


def _inserted(contingency: Contingency, state: SortieState) -> str:
    """What inserting a contingency does, as the words after the time."""
    steps = "; ".join(f"{t.id} {t.title}".strip() for t in contingency.tasks)
    held = ", ".join(named(t, state) for t in contingency.hold)
    stops = f" Put on hold until they are done: {held}." if held else ""
    return f"contingency {contingency.id} is inserted, ahead of the rest of its lanes: {steps}.{stops}"


def _kept(state: SortieState, briefed: dict[str, Task]) -> Offer:
    """The tasks that may not be given up, and why: the task is required, or a required task comes after it."""
    why = {t: f"{t} is required" for t, one in state.tasks.items() if one.required}
    found = dict(why)
    while why:
        why = {
            t: f"{task.id} comes after {t}, and {said}" for task in briefed.values() if (said := why.get(task.id))
            for t in task.after if t not in found and t in state.tasks
        }
        found |= why
    return [[t, said] for t, said in found.items()]


def _free_name(state: SortieState) -> str:
    number = 1
    while f"A{number:03d}" in state.tasks:
        number += 1
    return f"A{number:03d}"
