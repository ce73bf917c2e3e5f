"""The record: what the log says about each task, lane and suit, and the plan of record. `writer.py` fills it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, Literal, NamedTuple, TypeVar

from dashboard.core.base.findings import Discrepancy
from dashboard.core.plan.model import Plan, Task
from dashboard.core.record.counted import CountedEvents
from dashboard.core.record.legs import legs_that_go, work_without_way
from dashboard.core.record.lifecycle import (
    BROKEN_OFF,
    DEFERRED,
    DONE,
    NOT_STARTED,
    TaskWord,
)

Origin = Literal["briefed", "contingency", "added"]
ZeroFrom = Literal["clock event", "planned start"]
Copied = TypeVar("Copied", "TaskRun", "Record")


@dataclass
class TaskRun:
    """One task as the log has it so far. Times are PET minutes.

    Parameters
    ----------
    task : Task
        As briefed, or as added.
    origin : str
        Whether it was briefed, belongs to a contingency, or was added.
    lanes : tuple of str
        The lanes that do it now.
    start_pet_min, finish_pet_min : float or None
        None: it has not begun, or is not over; a start that was not logged is unknown.
    worked_before_min : float
        Minutes in work before the current stretch.
    working_since_pet_min : float or None
        Begin of the current stretch of work. None: it is not in work.
    spans : list of (float, float)
        Earlier stretches of work: from, to.
    whole_by_estimate_min : float or None
        Whole length by the standing estimate. None: no estimate stands.
    worked_at_estimate_min : float
        Minutes worked when the estimate was made. Counted in work, so that a hold does not use the estimate up.
    planned_min : float
        Length in the plan of record: the likely one, or what a trim or an extend set (`length_set`).
    held_by : str or None
        What was held: the task, its lane, all, or a contingency. None: it is not on hold.
    kept : bool
        It was reinstated although what it comes after is out of the plan of record.
    events : list of str
        Ids of the events that made it what it is.
    """

    task: Task
    origin: Origin
    lanes: tuple[str, ...]
    state: TaskWord = NOT_STARTED
    start_pet_min: float | None = None
    finish_pet_min: float | None = None
    worked_before_min: float = 0.0
    working_since_pet_min: float | None = None
    spans: list[tuple[float, float]] = field(default_factory=list)
    whole_by_estimate_min: float | None = None
    worked_at_estimate_min: float = 0.0
    planned_min: float = 0.0
    length_set: bool = False
    held_by: str | None = None
    hold_reason: str | None = None
    held_since_pet_min: float | None = None
    kept: bool = False
    events: list[str] = field(default_factory=list)

    def copied(self) -> TaskRun:
        """The same, on its own: what happens to one does not change the other."""
        return _copy(self, spans=list(self.spans), events=list(self.events))

    @property
    def is_over(self) -> bool:
        """Whether it is done or broken off."""
        return self.state in (DONE, BROKEN_OFF)

    @property
    def extended(self) -> bool:
        """Whether it is let run longer than briefed."""
        return self.planned_min > self.task.likely_min

    @property
    def counted_min(self) -> float:
        """Minutes that count as briefed work: the length that it was trimmed to; what an extend adds does not count."""
        return min(self.planned_min, self.task.likely_min)

    def worked_min(self, pet_min: float) -> float:
        """Minutes in work up to a PET; holds left out.

        Parameters
        ----------
        pet_min
            PET minutes, not before the last change of the task's state: earlier stretches always count as a whole.

        Returns
        -------
        float
            Zero or more.
        """
        running = 0.0 if self.working_since_pet_min is None else max(0.0, pet_min - self.working_since_pet_min)
        return self.worked_before_min + running

    def estimate_min(self, pet_min: float) -> float | None:
        """The standing estimate less work since, minutes; None: no estimate stands.

        Parameters
        ----------
        pet_min
            PET minutes, as for `worked_min`.

        Returns
        -------
        float or None
            Never below zero: zero once the estimate is used up.
        """
        if self.whole_by_estimate_min is None:
            return None
        return max(0.0, self.whole_by_estimate_min - self.worked_min(pet_min))

    def remaining_min(self, pet_min: float) -> float:
        """Minutes of work left at plan pace, never below zero.

        Parameters
        ----------
        pet_min
            PET minutes, as for `worked_min`.

        Returns
        -------
        float
            By the standing estimate; where none stands, the planned length less the minutes worked.
        """
        estimate = self.estimate_min(pet_min)
        return estimate if estimate is not None else max(0.0, self.planned_min - self.worked_min(pet_min))


class AmountLeft(NamedTuple):
    """What a suit had left of a consumable, as read: kg, or Wh for the battery."""

    pet_min: float
    value: float
    event: str


class Out(NamedTuple):
    """Why a task is out of the plan of record: deferred (itself, or what it comes after), or an option not taken."""

    deferred: bool
    why: str


@dataclass
class Record:
    """Everything the fold found, at one instant."""

    plan: Plan
    counted: CountedEvents
    pet_zero: datetime
    pet_zero_from: ZeroFrom
    pet_min: float
    pet_zero_doubt: str | None
    runs: dict[str, TaskRun]
    order: list[str]
    held_lanes: dict[str, str | None] = field(default_factory=dict)
    held_since: dict[str, float] = field(default_factory=dict)
    inserted: list[str] = field(default_factory=list)
    blocked_by: dict[str, list[str]] = field(default_factory=dict)
    chosen: dict[str, str] = field(default_factory=dict)
    readings: dict[tuple[str, str], list[AmountLeft]] = field(default_factory=dict)
    last_reading_at: datetime | None = None
    checks: dict[tuple[str, str], float] = field(default_factory=dict)
    end_pet_min: float | None = None
    out_because: dict[str, Out] = field(default_factory=dict)
    discrepancies: list[Discrepancy] = field(default_factory=list)

    def copied(self) -> Record:
        """The same, on its own: what is written into one does not change the other."""
        return _copy(
            self,
            runs={task_id: run.copied() for task_id, run in self.runs.items()},
            order=list(self.order),
            held_lanes=dict(self.held_lanes),
            held_since=dict(self.held_since),
            inserted=list(self.inserted),
            blocked_by={task_id: list(by) for task_id, by in self.blocked_by.items()},
            chosen=dict(self.chosen),
            readings={name: list(read) for name, read in self.readings.items()},
            checks=dict(self.checks),
            out_because=dict(self.out_because),
            discrepancies=list(self.discrepancies),
        )

    def in_plan(self, task_id: str) -> bool:
        """Whether a task is in the plan of record.

        Parameters
        ----------
        task_id
            A task of `runs`.

        Returns
        -------
        bool
            False for the tasks that `out_of_plan` found.
        """
        return task_id not in self.out_because

    def close_out_until(self, run: TaskRun) -> float | None:
        """PET at which the close-out of a broken-off task ends; None when it was not broken off.

        Parameters
        ----------
        run
            A task of this record.

        Returns
        -------
        float or None
            PET minutes: those of the break-off where the task has no close-out. The end of the sortie does not cut it short here.
        """
        if run.state != BROKEN_OFF or run.finish_pet_min is None:
            return None
        return run.finish_pet_min + (run.task.closeout or 0.0)

    def over_at(self, run: TaskRun) -> float | None:
        """PET at which a finished task leaves its lanes, its close-out included; None: it is not over.

        The end of the sortie cuts a close-out short.

        Parameters
        ----------
        run
            A task of this record.

        Returns
        -------
        float or None
            PET minutes, after now while the close-out goes on.
        """
        until = self.close_out_until(run)
        if run.finish_pet_min is None or until is None:
            return run.finish_pet_min
        return until if self.end_pet_min is None else min(until, max(run.finish_pet_min, self.end_pet_min))


def _copy(one: Copied, **own: Any) -> Copied:
    """A copy with these fields of its own; `dataclasses.replace` takes ten times as long."""
    made = object.__new__(type(one))
    made.__dict__.update(one.__dict__, **own)
    return made


def run_of(task: Task, origin: Origin) -> TaskRun:
    """A task before anything happened to it.

    Parameters
    ----------
    task
        As briefed, or as added.
    origin
        Whether it was briefed, belongs to a contingency, or was added.

    Returns
    -------
    TaskRun
        Not started, in the lanes of the task, at its likely length.
    """
    return TaskRun(task=task, origin=origin, lanes=task.lanes, planned_min=task.likely_min)


def briefed_order(plan: Plan) -> list[str]:
    """Task names by briefed start, then place in the file.

    A task of an option without a start of its own takes the place of the default option; other tasks without a
    start stand last.

    Parameters
    ----------
    plan
        As briefed.

    Returns
    -------
    list of str
        Every task of the plan except those of contingencies.
    """
    starts = {task.id: task.start for task in plan.tasks}
    for alternative in plan.alternatives:
        default_starts = [s for t in alternative.options[alternative.default] if (s := starts.get(t)) is not None]
        for task_ids in alternative.options.values():
            for task_id in task_ids:
                if starts.get(task_id) is None and default_starts:
                    starts[task_id] = min(default_starts)
    place = {task.id: i for i, task in enumerate(plan.tasks)}
    return sorted(place, key=lambda t: (s if (s := starts[t]) is not None else float("inf"), place[t]))


def out_of_plan(record: Record) -> dict[str, Out]:
    """The tasks that are out of the plan of record.

    Parameters
    ----------
    record
        Judged by the states of its tasks and the options taken; `out_because` is not read.

    Returns
    -------
    dict of str to Out
        Deferred tasks; of options that are not taken, the tasks that have not started; tasks that have not started and come
        `after` one of these, unless they were reinstated all the same (`TaskRun.kept`); work that no leg and no route takes
        its lanes to, and legs that nothing is left for (`legs.py`). What comes `after` a leg stays when the leg goes.
    """
    out: dict[str, Out] = {}
    for task_id, why in _options_not_taken(record).items():
        if record.runs[task_id].state == NOT_STARTED:
            out[task_id] = Out(deferred=False, why=why)
    for task_id, run in record.runs.items():
        if run.state == DEFERRED:
            out[task_id] = Out(deferred=True, why="deferred")
    _add_dependents(record, out, list(out))
    while without_way := work_without_way(record, out):
        out.update({task_id: Out(deferred=True, why=why) for task_id, why in without_way.items()})
        _add_dependents(record, out, list(without_way))
    out.update({leg: Out(deferred=True, why=why) for leg, why in legs_that_go(record, out).items()})
    return out


def legs_not_needed(record: Record, legs: Collection[str]) -> set[str]:
    """Legs that would go by themselves if nobody had given them up: nothing is left at their end, or their lanes are there.

    Parameters
    ----------
    record
        With these legs given up, or not.
    legs
        Legs of the record.

    Returns
    -------
    set of str
        Part of `legs`.
    """
    given_up = {leg for leg in legs if record.runs[leg].state == DEFERRED}
    kept = replace(record, runs={**record.runs, **{t: replace(record.runs[t], state=NOT_STARTED) for t in given_up}})
    return set(legs_that_go(kept, set(out_of_plan(kept)) - set(legs))) & set(legs)


def _add_dependents(record: Record, out: dict[str, Out], queue: list[str]) -> None:
    """Add what comes `after` the tasks of `queue`, and after these in turn."""
    dependents: dict[str, list[str]] = {}
    for task_id, run in record.runs.items():
        for needed in run.task.after:
            dependents.setdefault(needed, []).append(task_id)
    while queue:
        needed = queue.pop()
        for task_id in dependents.get(needed, []):
            run = record.runs[task_id]
            if task_id not in out and run.state == NOT_STARTED and not run.kept:
                out[task_id] = Out(out[needed].deferred, f"goes with {needed}")
                queue.append(task_id)


def _options_not_taken(record: Record) -> dict[str, str]:
    """Task name -> why, for the tasks of options that are not in force."""
    taken: set[str] = set()
    found: dict[str, str] = {}
    for alternative in record.plan.alternatives:
        option = record.chosen.get(alternative.id, alternative.default)
        taken.update(alternative.options[option])
        for name, task_ids in alternative.options.items():
            for task_id in task_ids:
                if name != option:
                    found[task_id] = f"option '{name}' of '{alternative.id}' is not taken"
    return {task_id: why for task_id, why in found.items() if task_id not in taken and task_id in record.runs}
