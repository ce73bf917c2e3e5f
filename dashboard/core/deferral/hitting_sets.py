"""The cheapest set that no failure so far rules out. Built on OR-Tools CP-SAT, without any times.

A set that misses the wanted confidence rules out every set that gives up no more (`Cut`). The cheapest set that no cut
rules out is a lower bound of the cost; when it reaches the confidence, no set costs less. The method is known as implicit
hitting sets: E. Moreno-Centeno and R. Karp, "The implicit hitting set approach", Operations Research 61:453 (2013)
(reference from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from dashboard.core.deferral.levels import Selection, TaskLevels
from dashboard.core.deferral.sense import GoesWith
from dashboard.core.deferral.solve import new_solver

MOST_TIES = 60
MOST_DOUBLINGS = 48  # whole numbers of the solver have 63 binary places


@dataclass(frozen=True)
class Cut:
    """A condition on every later set: it gives up more somewhere, or it hands some task to another lane.

    Parameters
    ----------
    beyond : mapping
        Task -> level. At least one of these tasks goes beyond its level, unless `elsewhere` holds.
    elsewhere : mapping
        Task -> lane, None for its own lane. At least one of these tasks is in another lane, unless `beyond` holds.
    """

    beyond: Mapping[str, int]
    elsewhere: Mapping[str, str | None]


class CandidateSets:
    """The sets that the rules of the plan and the cuts allow.

    Parameters
    ----------
    tasks : mapping
        Task -> its levels.
    keep_one_of : iterable of iterables of str
        At least one task of each group must be done whole.
    cuts : iterable of Cut
    sense : iterable of GoesWith
        Which tasks go along with others.
    """

    def __init__(
        self, tasks: Mapping[str, TaskLevels], keep_one_of: Iterable[Iterable[str]], cuts: Iterable[Cut],
        sense: Iterable[GoesWith] = (),
    ) -> None:
        # The solver is loaded when a model is made: a server has another process make them.
        from ortools.sat.python import cp_model

        self.tasks = tasks
        self.model = cp_model.CpModel()
        self.level = {t: self.model.new_int_var(0, each.last, f"level of {t}") for t, each in tasks.items()}
        self.reached: dict[tuple[str, int], Any] = {}
        self.out = {t: self._at_least(t, each.last) for t, each in tasks.items() if each.levels[-1].out}
        self.lanes = {t: self._lanes(each) for t, each in tasks.items() if each.moves}
        self.losses = self._losses()
        for rule in sense:
            self._goes_along(rule)
        for group in keep_one_of:
            self._one_is_whole(group)
        for cut in cuts:
            self.add(cut)

    def _at_least(self, task_id: str, level: int) -> Any:
        """Literal: the task is at this level or a higher one."""
        if (task_id, level) not in self.reached:
            literal = self.model.new_bool_var(f"{task_id} from level {level}")
            self.model.add(self.level[task_id] >= level).only_enforce_if(literal)
            self.model.add(self.level[task_id] < level).only_enforce_if(~literal)
            self.reached[task_id, level] = literal
        return self.reached[task_id, level]

    def _lanes(self, task: TaskLevels) -> dict[str, Any]:
        """A literal for each lane: a task is handed to at most one lane, and to none when it is out."""
        literals = {lane: self.model.new_bool_var(f"{task.id} to {lane}") for lane in task.moves}
        self.model.add_at_most_one(literals.values())
        if task.id in self.out:
            for literal in literals.values():
                self.model.add_implication(self.out[task.id], ~literal)
        return literals

    def _losses(self) -> dict[int, Any]:
        """Value lost in each priority class, highest class first."""
        terms: dict[int, list[Any]] = {}
        for task_id, task in self.tasks.items():
            if task.last == 0:
                continue
            found = terms.setdefault(task.priority, [])
            if task.last == 1:
                found.append(task.levels[1].loss * self.level[task_id])
                continue
            loss = self.model.new_int_var(0, max(s.loss for s in task.levels), f"loss of {task_id}")
            self.model.add_element(self.level[task_id], [s.loss for s in task.levels], loss)
            found.append(loss)
        return {priority: sum(found) for priority, found in sorted(terms.items())}

    def _goes_along(self, rule: GoesWith) -> None:
        """When all tasks of a rule are out, the one that goes with them is out; one that may not go keeps one of them."""
        if all(other in self.out for other in rule.all_of):
            goes = [self.out[rule.goes]] if rule.goes in self.out else []
            self.model.add_bool_or([*goes, *(~self.out[other] for other in sorted(rule.all_of))])

    def _one_is_whole(self, tasks: Iterable[str]) -> None:
        """At least one of these tasks is done whole."""
        known = [t for t in tasks if t in self.tasks]
        if known:
            self.model.add_bool_or(
                [~self._at_least(t, 1) if self.tasks[t].last else self.model.new_constant(1) for t in known]
            )

    def add(self, cut: Cut) -> None:
        """Exclude the sets that a cut rules out.

        Parameters
        ----------
        cut
            A cut that names neither a level nor a lane excludes every set.
        """
        literals = [self._at_least(t, level + 1) for t, level in cut.beyond.items()]
        for task_id, lane in cut.elsewhere.items():
            lanes = self.lanes[task_id]
            literals += [~lanes[lane]] if lane is not None else list(lanes.values())
        self.model.add_bool_or(literals)  # without literals no set is left

    def changes(self) -> Any:
        """Number of changes of a set."""
        given = [self._at_least(t, 1) for t, each in self.tasks.items() if each.last]
        return sum([*given, *(literal for lanes in self.lanes.values() for literal in lanes.values())])

    def earliness(self, starts: Mapping[str, float]) -> Any:
        """An objective that is least when what starts earliest is not given up; then what starts next, and so on.

        Parameters
        ----------
        starts
            Task -> projected start, PET minutes. Tasks without one do not count.

        Returns
        -------
        linear expression or int
            Over the variables of the model.
        """
        earliest_first = sorted((at, t) for t, at in starts.items() if t in self.tasks and self.tasks[t].last)
        places = [t for _, t in earliest_first]
        weights = {t: 2 ** min(len(places) - 1 - i, MOST_DOUBLINGS) for i, t in enumerate(places)}
        return sum(weight * self._at_least(t, 1) for t, weight in weights.items())

    def at_most(self, what: Any, most: int) -> None:
        """Keep an objective at the least value that an earlier stage has proven.

        Parameters
        ----------
        what
            Linear expression over the variables of the model. An int is a constant and needs no constraint.
        most
            The largest value allowed, in the unit of the expression.
        """
        if not isinstance(what, int):
            self.model.add(what <= most)

    def same_tasks(self, selection: Selection) -> None:
        """Keep to the tasks that a set gives up, whatever their levels.

        Parameters
        ----------
        selection
            The set.
        """
        for task_id, task in self.tasks.items():
            if task.last:
                given = self._at_least(task_id, 1)
                self.model.add(given == (1 if selection.level(task_id) else 0))

    def cheapest(self, objective: Any, freely: Iterable[str] = ()) -> Selection | None:
        """A set with the least objective.

        Parameters
        ----------
        objective : linear expression
        freely : iterable of str
            Tasks whose loss does not count yet. Of equal sets, the one that gives up most of them is taken: it is the
            most likely to reach the confidence.

        Returns
        -------
        Selection or None
            None when no set is left.

        Raises
        ------
        AssertionError
            When the solver neither proves an optimum nor proves that no set is left.
        """
        from ortools.sat.python import cp_model

        free = [self._at_least(t, self.tasks[t].last) for t in freely if self.tasks[t].last]
        moved = [literal for lanes in self.lanes.values() for literal in lanes.values()]
        weight = len(free) + len(moved) + 1
        self.model.minimize(weight * objective - sum(free) + sum(moved))
        solver = new_solver(1)
        solver.parameters.linearization_level = 0
        status = solver.solve(self.model)
        if status == cp_model.INFEASIBLE:
            return None
        if status != cp_model.OPTIMAL:
            raise AssertionError(f"no answer about a set: {solver.status_name(status)}; {self.model.validate()}")
        return self._read(solver)

    def all_left(self) -> tuple[list[Selection], bool]:
        """The sets that are left, at most `MOST_TIES` of them, and whether these are all."""
        model: Any = self.model  # its clear_objective carries no types
        model.clear_objective()
        solver = new_solver(1)
        solver.parameters.enumerate_all_solutions = True
        reader = _reader(self)
        solver.solve(self.model, reader)
        return list(reader.found.values()), not reader.more

    def _read(self, at: Any) -> Selection:
        levels = {t: at.value(level) for t, level in self.level.items()}
        lanes = {t: lane for t, lanes in self.lanes.items() for lane, literal in lanes.items() if at.value(literal)}
        return Selection({t: level for t, level in levels.items() if level}, lanes)


def _reader(sets: CandidateSets) -> Any:
    """Collects the sets that the solver enumerates: in `found`, and in `more` whether there are others."""
    from ortools.sat.python import cp_model

    class Reader(cp_model.CpSolverSolutionCallback):
        def __init__(self) -> None:
            super().__init__()
            self.more = False
            self.found: dict[Any, Selection] = {}

        def on_solution_callback(self) -> None:
            selection = sets._read(self)
            key = (tuple(sorted(selection.levels.items())), tuple(sorted(selection.lanes.items())))
            if key not in self.found and len(self.found) >= MOST_TIES:
                self.more = True
                self.stop_search()
                return
            self.found[key] = selection

    return Reader()
