"""What an event may do to the record. Events know these verbs; `dashboard.core.record.writer` carries them out.

A verb takes the event for whose sake it is done, since a complaint and the list of a task's events name it. A verb that
speaks of a task that is not in the record brings it in when it is a task of a contingency, and does nothing otherwise.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Protocol

from dashboard.core.plan.model import Plan, Task


class Logged(Protocol):
    """What the record needs to know of the event for whose sake something is done."""

    @property
    def id(self) -> str:
        """Its id, which complaints and the list of a task's events name."""

    @property
    def at(self) -> datetime:
        """When it happened."""


class TaskSoFar(Protocol):
    """One task as the log has it so far."""

    @property
    def task(self) -> Task:
        """The task as briefed or added."""

    @property
    def state(self) -> str:
        """Its state in the words of the life cycle."""

    @property
    def is_over(self) -> bool:
        """Whether it is done or broken off."""

    @property
    def planned_min(self) -> float:
        """Its length in the plan of record, minutes."""


class Recorder(ABC):
    """The record, as an event sees it."""

    plan: Plan

    @abstractmethod
    def complain(self, event: Logged, expected: str, found: str) -> None:
        """List that the event does not fit: what was expected, what was found, and what was made of it.

        Parameters
        ----------
        event
            The event that does not fit. The discrepancy has its time.
        expected
            Words that follow "expected".
        found
            Words that follow "found"; they also say what was made of it.
        """

    @abstractmethod
    def so_far(self, task_id: str) -> TaskSoFar | None:
        """A task of the record; absent: it is not there.

        Parameters
        ----------
        task_id
            A task of a contingency is brought in when it is not there yet.

        Returns
        -------
        TaskSoFar or None
            None: neither the plan nor an added task has this name.
        """

    @abstractmethod
    def mark(self, event: Logged, task_id: str) -> None:
        """List the event among those of the task.

        Parameters
        ----------
        event
            The event to be listed.
        task_id
            The task that it concerns.
        """

    @abstractmethod
    def step(self, event: Logged, task_id: str, action: str) -> bool:
        """Take a task through the table of the life cycle. An action that does not fit is listed.

        Parameters
        ----------
        event
            Its time is the time of the step.
        task_id
            The task whose state may change.
        action
            ``start``, ``done``, ``hold``, ``resume``, ``break_off``, ``defer`` or ``reinstate``.

        Returns
        -------
        bool
            False: its state did not change, or the record does not know the task.
        """

    @abstractmethod
    def start(self, event: Logged, task_id: str, lanes: tuple[str, ...] | None) -> None:
        """Work begins in these lanes, or another lane joins the work.

        Parameters
        ----------
        event
            Its time is the start.
        task_id
            The task that is begun.
        lanes
            The lanes in which work begins; None: the lanes that the task has.
        """

    @abstractmethod
    def hold_task(self, event: Logged, task_id: str, cause: str, reason: str | None) -> None:
        """A task stops.

        Parameters
        ----------
        event
            Its time is the time of the stop.
        task_id
            The task that stops.
        cause
            What was held: ``task``, ``lane`` with its name, ``all``, or ``contingency`` with its name.
        reason
            Why, in words of the room; None: no reason was given.
        """

    @abstractmethod
    def hold_lanes(self, event: Logged, lanes: Iterable[str], cause: str, reason: str | None) -> None:
        """Lanes stop, with all work in them.

        Parameters
        ----------
        event
            Its time is the time of the stop.
        lanes
            Ids of the lanes.
        cause
            What was held: ``lane`` with its name, or ``all``.
        reason
            Why, in words of the room; None: no reason was given.
        """

    @abstractmethod
    def resume_task(self, event: Logged, task_id: str) -> None:
        """A task goes on, and its lanes with it.

        Parameters
        ----------
        event
            Its time is when the work goes on.
        task_id
            The task that goes on.
        """

    @abstractmethod
    def resume_lanes(self, event: Logged, lanes: Iterable[str]) -> None:
        """Lanes go on, with the work that was held with them.

        Parameters
        ----------
        event
            Its time is when the work goes on.
        lanes
            Ids of the lanes.
        """

    @abstractmethod
    def estimate(self, event: Logged, task_id: str, remaining_min: float) -> None:
        """So many minutes of a task remain. Set aside and listed when the task is neither in work nor on hold.

        Parameters
        ----------
        event
            Its time is when the estimate was made.
        task_id
            The task that was estimated.
        remaining_min
            Minutes of work that remained at that time.
        """

    @abstractmethod
    def defer(self, event: Logged, task_id: str) -> None:
        """A task leaves the plan of record.

        Parameters
        ----------
        event
            The event that defers it.
        task_id
            A task that was begun stays as it is, and this is listed.
        """

    @abstractmethod
    def reinstate(self, event: Logged, task_ids: Iterable[str]) -> None:
        """Tasks are put back into the plan of record.

        Parameters
        ----------
        event
            The event that reinstates them.
        task_ids
            Deferred tasks, or tasks that left the plan of record with what they come after.
        """

    @abstractmethod
    def set_length(self, event: Logged, task_id: str, length_min: float) -> None:
        """A task gets a new whole length, minutes.

        An estimate that exceeds it is set aside, and any estimate when the task is let run longer than planned: it was
        made of the length before.

        Parameters
        ----------
        event
            The event that sets the length.
        task_id
            The task that gets it.
        length_min
            Minutes, from the start of the task to its end, holds left out.
        """

    @abstractmethod
    def insert(self, event: Logged, contingency_id: str) -> None:
        """The tasks of a contingency join the plan of record; what it holds is put on hold.

        Parameters
        ----------
        event
            Its time is when the work that it holds stops.
        contingency_id
            A contingency of the plan. One that was inserted before stays as it is, and this is listed.
        """

    @abstractmethod
    def choose(self, event: Logged, alternative_id: str, option: str) -> None:
        """An option of an alternative is taken.

        Parameters
        ----------
        event
            The event that takes it.
        alternative_id
            An alternative of the plan.
        option
            One of its options.
        """

    @abstractmethod
    def add(self, event: Logged, task: Task, before: str | None) -> None:
        """A new task becomes known.

        Parameters
        ----------
        event
            The event that adds it.
        task
            A task whose name is used already is not added, and this is listed. Links that lead back to the task are left out.
        before
            The task that it goes before; None: its briefed start places it, else it goes last.
        """

    @abstractmethod
    def place_added(self, event: Logged, task: Task, before: str | None) -> None:
        """An added task takes its place in the order: before the task named, at its start, or ahead of what remains.

        Parameters
        ----------
        event
            The event that added it.
        task
            As given to `add`.
        before
            The task that it goes before; None: its start places it, else it goes ahead of what remains, unless it is a get-ahead.
        """

    @abstractmethod
    def hand_over(self, event: Logged, task_id: str, lane: str) -> None:
        """A lane takes a task over from another.

        Parameters
        ----------
        event
            The event that hands it over.
        task_id
            The task that is handed over.
        lane
            The lane that takes it over; nothing happens when the task has this lane already. Of several lanes of the task, the
            only one of the same kind is relieved; where no single lane can be named, nothing is moved, and this is listed.
        """

    @abstractmethod
    def put_before(self, event: Logged, task_id: str, before: str) -> None:
        """A task goes before another in the order of the plan of record.

        Parameters
        ----------
        event
            The event that changes the order.
        task_id
            The task that moves.
        before
            The task that it goes before. The order is kept, and this is listed, when it is the same task or not in the order.
        """

    @abstractmethod
    def read(self, event: Logged, suit: str, left: Mapping[str, float]) -> None:
        """What a suit has left.

        Parameters
        ----------
        event
            Its time is the time of the reading.
        suit
            Id of the suit.
        left
            Amount by consumable, in units of the plan; only what was read.
        """

    @abstractmethod
    def check_made(self, event: Logged, check: str, lane: str) -> None:
        """A recurring call was made.

        Parameters
        ----------
        event
            Its time is the time of the call.
        check
            Id of the recurring call.
        lane
            The lane that was called.
        """

    @abstractmethod
    def end(self, event: Logged) -> None:
        """The sortie is over.

        Parameters
        ----------
        event
            Its time is the end. A second end is listed and changes nothing.
        """
