"""Which set to try next: the cheapest that no failure so far rules out. Built on OR-Tools CP-SAT, without any times.

A set that fails when drawn rules out every set that gives up no more; `Cut` says so. The cheapest set that no cut rules
out is a lower bound on the cost; when it passes, it is the least. The method is known as implicit hitting sets: E. Moreno-
Centeno and R. Karp, "The implicit hitting set approach", Operations Research 61:453 (2013) (reference from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from ortools.sat.python import cp_model

from dashboard.core.deferral.pieces import Pick, Piece
from dashboard.core.deferral.solve import new_solver

MOST_TIES = 60


@dataclass(frozen=True)
class Cut:
    """At least one of these tasks goes beyond its step here, or one of these is in another lane (None: its own)."""

    beyond: Mapping[str, int]
    elsewhere: Mapping[str, str | None]


class Sets:
    """All sets that the rules of the plan and the cuts leave."""

    def __init__(
        self, pieces: Mapping[str, Piece], keep_one_of: Iterable[Iterable[str]], cuts: Iterable[Cut]
    ) -> None:
        self.pieces = pieces
        self.model = cp_model.CpModel()
        self.step = {t: self.model.new_int_var(0, p.last, f"step of {t}") for t, p in pieces.items()}
        self.reached: dict[tuple[str, int], Any] = {}
        self.out = {t: self._at_least(t, p.last) for t, p in pieces.items() if p.steps[-1].out}
        self.lanes = {t: self._lanes(p) for t, p in pieces.items() if p.moves}
        self.losses = self._losses()
        self._followers_go_along()
        for tasks in keep_one_of:
            self._one_is_whole(tasks)
        for cut in cuts:
            self.add(cut)

    def _at_least(self, task_id: str, step: int) -> Any:
        """Literal: the task is at this step or beyond."""
        if (task_id, step) not in self.reached:
            literal = self.model.new_bool_var(f"{task_id} from step {step}")
            self.model.add(self.step[task_id] >= step).only_enforce_if(literal)
            self.model.add(self.step[task_id] < step).only_enforce_if(~literal)
            self.reached[task_id, step] = literal
        return self.reached[task_id, step]

    def _lanes(self, piece: Piece) -> dict[str, Any]:
        literals = {lane: self.model.new_bool_var(f"{piece.id} to {lane}") for lane in piece.moves}
        self.model.add_at_most_one(literals.values())
        if piece.id in self.out:
            for literal in literals.values():
                self.model.add_implication(self.out[piece.id], ~literal)
        return literals

    def _losses(self) -> dict[int, Any]:
        terms: dict[int, list[Any]] = {}
        for task_id, piece in self.pieces.items():
            if piece.last == 0:
                continue
            found = terms.setdefault(piece.priority, [])
            if piece.last == 1:
                found.append(piece.steps[1].loss * self.step[task_id])
                continue
            loss = self.model.new_int_var(0, max(s.loss for s in piece.steps), f"loss of {task_id}")
            self.model.add_element(self.step[task_id], [s.loss for s in piece.steps], loss)
            found.append(loss)
        return {priority: sum(found) for priority, found in sorted(terms.items())}

    def _followers_go_along(self) -> None:
        for task_id, piece in self.pieces.items():
            for needed in piece.after:
                if needed not in self.out:
                    continue
                if task_id in self.out:
                    self.model.add_implication(self.out[needed], self.out[task_id])
                else:
                    self.model.add(self.out[needed] == 0)

    def _one_is_whole(self, tasks: Iterable[str]) -> None:
        known = [t for t in tasks if t in self.pieces]
        if known:
            self.model.add_bool_or(
                [~self._at_least(t, 1) if self.pieces[t].last else self.model.new_constant(1) for t in known]
            )

    def add(self, cut: Cut) -> None:
        """Leave out what a cut rules out."""
        literals = [self._at_least(t, step + 1) for t, step in cut.beyond.items()]
        for task_id, lane in cut.elsewhere.items():
            lanes = self.lanes[task_id]
            literals += [~lanes[lane]] if lane is not None else list(lanes.values())
        self.model.add_bool_or(literals)  # of none: nothing is left

    def changes(self) -> Any:
        """How many changes a set is."""
        given = [self._at_least(t, 1) for t, p in self.pieces.items() if p.last]
        return sum([*given, *(literal for lanes in self.lanes.values() for literal in lanes.values())])

    def at_most(self, what: Any, most: int) -> None:
        """Fix what a stage has reached."""
        if not isinstance(what, int):
            self.model.add(what <= most)

    def cheapest(self, objective: Any, freely: Iterable[str] = ()) -> Pick | None:
        """A set of the least objective; of equal ones, the one that gives up most of `freely`. None: there is none."""
        free = [self._at_least(t, self.pieces[t].last) for t in freely if self.pieces[t].last]
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

    def all_left(self) -> tuple[list[Pick], bool]:
        """The sets that are left, at most `MOST_TIES`; True: these are all."""
        model: Any = self.model  # its clear_objective carries no types
        model.clear_objective()
        solver = new_solver(1)
        solver.parameters.enumerate_all_solutions = True
        reader = _Reader(self)
        solver.solve(self.model, reader)
        return list(reader.found.values()), not reader.more

    def _read(self, at: Any) -> Pick:
        steps = {t: at.value(step) for t, step in self.step.items()}
        lanes = {t: lane for t, lanes in self.lanes.items() for lane, literal in lanes.items() if at.value(literal)}
        return Pick({t: step for t, step in steps.items() if step}, lanes)


class _Reader(cp_model.CpSolverSolutionCallback):
    """Collects the sets that are left."""

    def __init__(self, sets: Sets) -> None:
        super().__init__()
        self.sets, self.more = sets, False
        self.found: dict[Any, Pick] = {}

    def on_solution_callback(self) -> None:
        pick = self.sets._read(self)
        key = (tuple(sorted(pick.steps.items())), tuple(sorted(pick.lanes.items())))
        if key not in self.found and len(self.found) >= MOST_TIES:
            self.more = True
            self.stop_search()
            return
        self.found[key] = pick
