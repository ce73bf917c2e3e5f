"""Solves the scheduling model in strict order: value lost by priority class, then fewest changes, then the earliest end."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from dashboard.core.deferral.items import SECONDS, Deferral, coarsened
from dashboard.core.deferral.model import Built, build, is_none_of, keeps_one_of
from dashboard.core.events.change import Change

if TYPE_CHECKING:  # the solver is loaded when a model is made: a server has another process make them
    from ortools.sat.python import cp_model

TIME_LIMIT_S = 10.0
SEED = 7


@dataclass(frozen=True)
class Solution:
    """An answer of the solver. `proven` False: the best answer that was found within the time limit."""

    change: Change
    end_pet_min: float
    proven: bool


def solve(
    problem: Deferral, *, resequence: bool = False, limit: bool = True, workers: int = 1,
    keep_one_of: Sequence[Iterable[str]] = (), failed: Iterable[Change] = (), hint: Change | None = None,
    time_limit_s: float = TIME_LIMIT_S,
) -> Solution | None:
    """The optimum in strict order.

    Parameters
    ----------
    problem : Deferral
    resequence : bool
        The order in the lanes is free.
    limit : bool
        False: limit and suits do not bind, and the earliest end is the first objective (the earliest way in).
    workers : int
        Threads of the solver. With 1 the same problem gives the same answer.
    keep_one_of : sequence of iterables of str
        At least one task of each group must be done whole.
    failed : iterable of Change
        Answers that the validator refused; none of them is given again.
    hint : Change, optional
        An earlier answer that is likely to be near. It saves time and does not change the optimum.
    time_limit_s : float
        For all stages together.

    Returns
    -------
    Solution or None
        None when nothing keeps the limit and the reserves of the suits, or nothing was found in time.

    Raises
    ------
    AssertionError
        When the solver finds that the model is malformed.
    """
    from ortools.sat.python import cp_model

    problem, unit_s = coarsened(problem)
    built = build(problem, resequence=resequence, limit=limit)
    for task_ids in keep_one_of:
        keeps_one_of(built, task_ids)
    is_none_of(built, failed)
    if hint is not None:
        _hint_from(built, hint)
    stages: list[tuple[Any, bool]] = [(loss, True) for loss in built.losses.values()]
    stages += [(built.changes, True), (built.end, False)]
    if not limit:
        stages.insert(0, (built.end, True))
    solver, proven, found, spent_s = new_solver(workers), True, False, 0.0
    for objective, fixed in stages:
        if isinstance(objective, int):
            continue
        built.model.minimize(objective)
        solver.parameters.max_time_in_seconds = max(0.05, time_limit_s - spent_s)
        status = solver.solve(built.model)
        spent_s += solver.wall_time
        if status == cp_model.MODEL_INVALID:
            raise AssertionError(f"the model is not valid: {built.model.validate()}")
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            if not found:
                return None
            proven = False
            break
        proven = proven and status == cp_model.OPTIMAL
        found = True
        best = _read(built, solver, unit_s)
        if fixed:
            built.model.add(objective <= round(solver.objective_value))
        _hint(built, solver)
    return Solution(best[0], best[1], proven) if found else None


def new_solver(workers: int) -> cp_model.CpSolver:
    """A solver that gives the same answer for the same problem (with one worker).

    Parameters
    ----------
    workers
        Threads of the solver.

    Returns
    -------
    cp_model.CpSolver
        It has no time limit yet.
    """
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = SEED
    solver.parameters.catch_sigint_signal = False  # its own handler would end the whole program
    return solver


def _hint(built: Built, solver: cp_model.CpSolver) -> None:
    model: Any = built.model  # its clear_hints carries no types
    model.clear_hints()
    for one in built.by_id.values():
        givable = one.item.may_defer or one.item.closeout_s is not None
        for variable in (one.start, one.length, *((one.kept,) if givable else ())):
            built.model.add_hint(variable, solver.value(variable))


def _hint_from(built: Built, change: Change) -> None:
    out = (*change.defer, *change.break_off)
    for task_id, one in built.by_id.items():
        if one.item.may_defer or one.item.closeout_s is not None:
            built.model.add_hint(one.kept, task_id not in out)


def _read(built: Built, solver: cp_model.CpSolver, unit_s: int) -> tuple[Change, float]:
    defer: list[str] = []
    break_off: list[str] = []
    trim: dict[str, float] = {}
    move: dict[str, str] = {}
    starts: dict[str, int] = {}
    for task_id, one in built.by_id.items():
        item = one.item
        if not solver.value(one.kept):
            (break_off if item.closeout_s is not None else defer).append(task_id)
            continue
        starts[task_id] = solver.value(one.start)
        if one.trimmed is not None and solver.value(one.trimmed) and solver.value(one.length) < item.length_s:
            trim[task_id] = (item.worked_s + solver.value(one.length)) * unit_s / SECONDS
        for lane in item.moves:
            if solver.value(one.lanes[lane]):
                move[task_id] = lane
    place = {task_id: i for i, task_id in enumerate(built.by_id)}
    order = tuple(sorted(starts, key=lambda t: (starts[t], place[t])))
    change = Change(defer=tuple(defer), trim=trim, break_off=tuple(break_off), move=move, order=tuple(order))
    return change, solver.value(built.end) * unit_s / SECONDS
