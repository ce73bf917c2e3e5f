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
        """List that the event does not fit: what was expected, what was found, and what was made of it."""

    @abstractmethod
    def so_far(self, task_id: str) -> TaskSoFar | None:
        """A task of the record; None: it is not there."""

    @abstractmethod
    def mark(self, event: Logged, task_id: str) -> None:
        """List the event among those of the task."""

    @abstractmethod
    def step(self, event: Logged, task_id: str, action: str) -> bool:
        """Take a task through the table of the life cycle. False: its state did not change."""

    @abstractmethod
    def start(self, event: Logged, task_id: str, lanes: tuple[str, ...] | None) -> None:
        """Work begins in these lanes, or another lane joins the work; None: the lanes that the task has."""

    @abstractmethod
    def hold_task(self, event: Logged, task_id: str, cause: str, reason: str | None) -> None:
        """A task stops. `cause` names what was held: the task, its lane, all, or the contingency."""

    @abstractmethod
    def hold_lanes(self, event: Logged, lanes: Iterable[str], cause: str, reason: str | None) -> None:
        """Lanes stop, with all work in them."""

    @abstractmethod
    def resume_task(self, event: Logged, task_id: str) -> None:
        """A task goes on, and its lanes with it."""

    @abstractmethod
    def resume_lanes(self, event: Logged, lanes: Iterable[str]) -> None:
        """Lanes go on, with the work that was held with them."""

    @abstractmethod
    def estimate(self, event: Logged, task_id: str, remaining_min: float) -> None:
        """So many minutes of a task remain."""

    @abstractmethod
    def defer(self, event: Logged, task_id: str) -> None:
        """A task leaves the plan of record."""

    @abstractmethod
    def reinstate(self, event: Logged, task_ids: Iterable[str]) -> None:
        """Tasks are put back into the plan of record."""

    @abstractmethod
    def set_length(self, event: Logged, task_id: str, length_min: float) -> None:
        """A task gets a new whole length, minutes.

        An estimate that exceeds it is set aside, and any estimate when the task is let run longer than planned: it was
        made of the length before.
        """

    @abstractmethod
    def insert(self, event: Logged, contingency_id: str) -> None:
        """The tasks of a contingency join the plan of record; what it holds is put on hold."""

    @abstractmethod
    def choose(self, event: Logged, alternative_id: str, option: str) -> None:
        """An option of an alternative is taken."""

    @abstractmethod
    def add(self, event: Logged, task: Task, before: str | None) -> None:
        """A new task becomes known."""

    @abstractmethod
    def place_added(self, event: Logged, task: Task, before: str | None) -> None:
        """An added task takes its place in the order: before the task named, at its start, or ahead of what remains."""

    @abstractmethod
    def hand_over(self, event: Logged, task_id: str, lane: str) -> None:
        """A lane takes a task over from another."""

    @abstractmethod
    def put_before(self, event: Logged, task_id: str, before: str) -> None:
        """A task goes before another in the order of the plan of record."""

    @abstractmethod
    def read(self, event: Logged, suit: str, left: Mapping[str, float]) -> None:
        """What a suit has left, by consumable, in units of the plan."""

    @abstractmethod
    def check_made(self, event: Logged, check: str, lane: str) -> None:
        """A recurring call was made."""

    @abstractmethod
    def end(self, event: Logged) -> None:
        """The sortie is over."""
