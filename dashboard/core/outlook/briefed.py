"""The brief at PET zero: the plan with its forecast, for the checks that need both.

The forecast is that of `follow` with no event: the same projection, the same draws and the same chance that the state shows at
PET zero.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, NamedTuple

from dashboard.core.base.minutes import Towards, clock
from dashboard.core.base.problems import Problem
from dashboard.core.outlook.learned_length import LearnedLength
from dashboard.core.plan.fields import Finding, Place
from dashboard.core.plan.finding_kinds import FORECAST
from dashboard.core.plan.model import Plan, Task
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import DRAWS, Expected
from dashboard.core.schedule.plan_pace import Projection, project
from dashboard.core.state.follow import state_with_draws
from dashboard.core.state.model import SortieState
from dashboard.core.suits.budget import Budget, budgets
from dashboard.core.suits.way_home import tasks_of_way_home

Grade = Literal["error", "caution", "note"]


class _Forecast(NamedTuple):
    state: SortieState
    expected: Expected | None


@dataclass(frozen=True)
class Briefed:
    """A plan before the sortie, with its forecast. Everything is computed once, when it is first asked for.

    Parameters
    ----------
    plan : Plan
        Without errors that make it impossible to follow.
    learned : mapping of str to LearnedLength
        Task -> what recorded runs say of its length; empty: no runs were given.
    draws : int
        Number of draws, above 0.
    """

    plan: Plan
    learned: Mapping[str, LearnedLength]
    draws: int = DRAWS

    @cached_property
    def record(self) -> Record:
        """The record at PET zero, without an event."""
        return reconcile(self.plan, [], self.plan.sortie.start)

    @cached_property
    def projection(self) -> Projection:
        """The projection at plan pace."""
        return project(self.record)

    @cached_property
    def budget(self) -> dict[tuple[str, str], Budget]:
        """(suit, consumable) -> the budget at plan pace, of those that may set a limit."""
        return budgets(self.record, self.projection)

    @cached_property
    def _forecast(self) -> _Forecast:
        return _Forecast(*state_with_draws(self.record, self.plan.sortie.start, draws=self.draws))

    @property
    def state(self) -> SortieState:
        """The state at PET zero."""
        return self._forecast.state

    @property
    def expected(self) -> Expected | None:
        """The draws of the state; None when no crew task is in the plan of record."""
        return self._forecast.expected

    @property
    def chance(self) -> float | None:
        """Probability of being in by the limit with every suit above its reserve; None without crew tasks."""
        return self.state.end.in_by_limit

    @property
    def limit_pet_min(self) -> float:
        """The planned limit less reserve."""
        return self.plan.sortie.limit_less_reserve_pet_min

    @cached_property
    def way_home(self) -> set[str]:
        """The tasks of the way home of every crew lane."""
        return tasks_of_way_home(self.record)

    @cached_property
    def places(self) -> dict[str, Place]:
        """Task -> its place in the tables of the plan file."""
        return {task.id: ("task", at) for at, task in enumerate(self.plan.tasks)}

    def place(self, task_id: str, key: str) -> Place:
        """The place of a key of a task.

        Parameters
        ----------
        task_id
            A task of the plan, not one of a contingency.
        key
            Of the task's table; the table itself may do without it.

        Returns
        -------
        tuple of str or int
        """
        return (*self.places[task_id], key)

    @cached_property
    def ordinary(self) -> list[Task]:
        """The tasks that the brief has in the sortie: no get-ahead, and no task of an option that is not the default."""
        other = {
            task_id
            for a in self.plan.alternatives for option, tasks in a.options.items() if option != a.default
            for task_id in tasks if task_id not in a.options[a.default]
        }
        return [task for task in self.plan.tasks if not task.get_ahead and task.id not in other]


def named(task: Task) -> str:
    """A task as findings name it.

    Parameters
    ----------
    task
        With or without a title.

    Returns
    -------
    str
        For example ``T080 Swap mast connector``.
    """
    return f"{task.id} {task.title}".rstrip()


def pet(minutes: float, towards: Towards = "down") -> str:
    """A PET as findings name it: ``PET 2:05``.

    Parameters
    ----------
    minutes
        PET minutes.
    towards
        How to round to whole minutes.

    Returns
    -------
    str
    """
    return f"PET {clock(minutes, towards)}"


def found(
    code: str, grade: Grade, place: Place, subject: str, expected: str, what: str, cure: str, consequence: str | None = None
) -> Finding:
    """A finding of the forecast. The sortie can be followed with the plan all the same.

    Parameters
    ----------
    code
        A key of `FORECAST`.
    grade
        How serious it is.
    place
        In the tables of the plan file.
    subject, expected, what, cure
        As in `Problem`; `what` was found.
    consequence
        Whole sentences; None: those of the kind of finding.

    Returns
    -------
    Finding
    """
    follows = FORECAST[code].follows if consequence is None else consequence
    return Finding(place, Problem(
        subject, expected, what, cure, severity=grade, can_be_followed=True, code=code, consequence=follows,
    ))  # fmt: skip
