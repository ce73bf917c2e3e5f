"""Advice: whether something must be given up, and up to three clearly different ways to do it. It never acts."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Literal

from dashboard.core.deferral.change import Change, with_change
from dashboard.core.deferral.items import deferral_of
from dashboard.core.deferral.solve import Solution, solve
from dashboard.core.deferral.validate import faults
from dashboard.core.deferral.whatif import Figures, figures_of
from dashboard.core.expected import DRAWS
from dashboard.core.lifecycle import IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.pace import learn_pace
from dashboard.core.problems import InputError, Problem, did_you_mean
from dashboard.core.projection import Projection, project
from dashboard.core.record import Record, TaskRun
from dashboard.core.suits import budgets

Basis = Literal["expected", "plan-pace"]
MOST_CHOICES = 3
MOST_TIGHTENINGS = 12
TIGHTENING_STEP_MIN = 1.0


class Stopped(Exception):
    """The advice is no longer wanted."""


@dataclass(frozen=True)
class Proposal:
    """One way out. `reached` False: it is only the earliest way in."""

    figures: Figures
    proven: bool
    reached: bool
    differs: str
    why: str


@dataclass(frozen=True)
class Advised:
    """The advice of one instant."""

    needed: bool
    basis: Basis
    confidence: float
    now: Figures
    proposals: list[Proposal]
    get_ahead: list[str]


@dataclass(frozen=True)
class Wish:
    """What the asker fixed: tasks to keep whole, tasks to give up, whether the order in the lanes is free."""

    keep: frozenset[str] = frozenset()
    give_up: frozenset[str] = frozenset()
    resequence: bool = False


def advise(
    record: Record, *, confidence: float | None = None, basis: Basis = "expected", wish: Wish | None = None,
    on_demand: bool = False, draws: int = DRAWS, workers: int = 1, stop: Callable[[], bool] = lambda: False,
) -> Advised:
    """What to give up so that the crew is in by the limit with the wanted confidence.

    Parameters
    ----------
    record : Record
        From `reconcile`.
    confidence : float, optional
        Wanted probability; None: the plan's.
    basis : str
        ``expected`` verifies by draws; ``plan-pace`` is deterministic, on likely durations alone.
    wish : Wish, optional
    on_demand : bool
        Propose even when nothing must be given up.
    draws, workers : int
    stop : callable
        Asked between two steps; when it says True, `Stopped` is raised.
    """
    wanted = record.plan.sortie.confidence if confidence is None else confidence
    wish = wish or Wish()
    projection = project(record)
    asked = asked_change(record, wish)
    base = with_change(record, asked) if asked.given_up() else record
    told = _Adviser(base, record, projection, wanted, basis, wish, asked, draws if basis == "expected" else 0, workers, stop)
    now = told.figures(Change())
    needed = not told.enough(now)
    proposals = told.proposals() if (needed or on_demand or wish.give_up or wish.resequence) else []
    ahead = [] if needed else told.get_aheads()
    return Advised(needed, basis, wanted, now, proposals, ahead)


def asked_change(record: Record, wish: Wish) -> Change:
    """What the asker wants to give up, as a change; InputError when the wish cannot be met.

    Raises
    ------
    InputError
        For an unknown task, a task both kept and given up, one that is over or out of the plan of record, a required
        task given up, or work in hand that may not be broken off.
    """
    problems = [*_unknown(record, wish), *_contradictory(wish)]
    if not problems:
        problems = [p for task_id in sorted(wish.give_up) if (p := _not_to_give(record.runs[task_id])) is not None]
    if problems:
        raise InputError(problems)
    begun = [t for t in sorted(wish.give_up) if record.runs[t].state in (IN_WORK, ON_HOLD)]
    return Change(defer=tuple(t for t in sorted(wish.give_up) if t not in begun), break_off=tuple(begun))


def _unknown(record: Record, wish: Wish) -> list[Problem]:
    return [
        Problem("advice", "the name of a task of the plan of record", f"'{name}'", did_you_mean(name, record.runs))
        for name in sorted(wish.keep | wish.give_up)
        if name not in record.runs
    ]


def _contradictory(wish: Wish) -> list[Problem]:
    return [
        Problem(f"advice on {name}", "to keep it or to give it up", "both", "Name it once.")
        for name in sorted(wish.keep & wish.give_up)
    ]


def _not_to_give(run: TaskRun) -> Problem | None:
    subject, name = f"giving up {run.task.id}", run.task.id
    if run.task.required:
        return Problem(subject, "a task that may be given up", f"{name} is required", "Leave it out.")
    if run.state not in (NOT_STARTED, IN_WORK, ON_HOLD):
        return Problem(subject, "a task that remains", f"{name} is {run.state}", "Leave it out.")
    if run.state != NOT_STARTED and run.task.closeout is None:
        return Problem(subject, "work in hand that may be broken off", f"{name} has no close-out", "Leave it out.")
    return None


class _Adviser:
    def __init__(
        self, base: Record, record: Record, before: Projection, confidence: float, basis: Basis, wish: Wish,
        asked: Change, draws: int, workers: int, stop: Callable[[], bool],
    ) -> None:
        self.base, self.record, self.before, self.confidence = base, record, before, confidence
        self.basis, self.wish, self.asked, self.draws, self.workers = basis, wish, asked, draws, workers
        self.stop = stop
        self.limit = record.plan.sortie.limit_less_reserve_pet_min
        self.pace = learn_pace(record)

    def figures(self, change: Change) -> Figures:
        whole = replace(
            change, defer=(*self.asked.defer, *change.defer), break_off=(*self.asked.break_off, *change.break_off)
        )
        return figures_of(self.record, self.before, whole, confidence=self.confidence, draws=self.draws)

    def enough(self, figures: Figures) -> bool:
        return figures.short_by_min <= 0

    # -- proposals

    def proposals(self) -> list[Proposal]:
        found: list[Proposal] = []
        first = self.best(())
        if first is None:
            return [self.earliest_way_in()]
        found.append(self._proposal(first, "what costs least"))
        given = [set(first[0].change.given_up()) - self.wish.give_up]
        while len(found) < MOST_CHOICES and given[-1]:
            other = self.best([sorted(one) for one in given])
            if other is None:
                break
            kept = sorted(given[-1] - set(other[0].change.given_up()))
            found.append(self._proposal(other, f"keeps {', '.join(kept)}" if kept else "another way"))
            given.append(set(other[0].change.given_up()) - self.wish.give_up)
        return found

    def best(self, keep_one_of: Sequence[Sequence[str]]) -> tuple[Figures, Solution] | None:
        """The best over the options of the open alternatives; the default options win ties."""
        best: tuple[tuple[float, ...], tuple[Figures, Solution]] | None = None
        for options in self._options():
            found = self._with_confidence(options, keep_one_of)
            if found is None:
                continue
            rank = self._rank(found[0])
            if best is None or rank < best[0]:
                best = (rank, found)
        return best[1] if best else None

    def _rank(self, figures: Figures) -> tuple[float, ...]:
        classes = sorted({run.task.priority for run in self.record.runs.values()})
        lost = [round(figures.value_lost.get(c, 0.0), 6) for c in classes]
        return (*lost, figures.change.count(), figures.end_pet_min or 0.0)

    def _options(self) -> list[dict[str, str]]:
        open_ones = [a for a in self.record.plan.alternatives if a.id not in self.record.chosen]
        untouched = [
            a for a in open_ones
            if all(self.record.runs[t].state == NOT_STARTED for ids in a.options.values() for t in ids)
        ]
        names = [[a.default, *(o for o in a.options if o != a.default)] for a in untouched]
        return [
            {a.id: option for a, option in zip(untouched, taken, strict=True) if option != a.default}
            for taken in product(*names)
        ]

    def _with_confidence(
        self, options: dict[str, str], keep_one_of: Sequence[Sequence[str]]
    ) -> tuple[Figures, Solution] | None:
        """Solve, verify by draws, tighten the limit and solve again, until the confidence is met."""
        base = with_change(self.base, Change(choose=options)) if options else self.base
        projection = project(base)
        tighten = 0.0
        for _ in range(MOST_TIGHTENINGS):
            if self.stop():
                raise Stopped
            problem = deferral_of(
                base, projection, budgets(base, projection), self.limit, tighten_min=tighten, keep=self.wish.keep,
                length_factor=self._factor,
            )
            solution = solve(
                problem, resequence=self.wish.resequence, workers=self.workers, keep_one_of=keep_one_of
            )
            if solution is None:
                return None
            change = replace(
                solution.change, choose=options, order=solution.change.order if self.wish.resequence else ()
            )
            figures = self.figures(change)
            if self.enough(figures):
                return figures, replace(solution, change=change)
            past_this_one = self.limit - solution.end_pet_min + TIGHTENING_STEP_MIN
            tighten = max(tighten + math.ceil(figures.short_by_min), past_this_one)
        return None

    def _factor(self, run: TaskRun) -> float:
        if self.basis == "plan-pace":
            return 1.0
        return math.exp(float(self.pace.row(run.lanes) @ self.pace.mean))

    def earliest_way_in(self) -> Proposal:
        """Nothing reaches the confidence: give up all that may be given up, and be in as early as can be."""
        projection = project(self.base)
        problem = deferral_of(
            self.base, projection, budgets(self.base, projection), self.limit, keep=self.wish.keep,
            length_factor=self._factor,
        )
        solution = solve(problem, resequence=self.wish.resequence, limit=False, workers=self.workers)
        change = replace(solution.change, order=()) if solution else Change()
        figures = self.figures(change)
        why = "Nothing that may be given up reaches the wanted confidence. This is the earliest way in."
        return Proposal(figures, bool(solution and solution.proven), False, "the earliest way in", why)

    def _proposal(self, found: tuple[Figures, Solution], differs: str) -> Proposal:
        figures, solution = found
        wrong = faults(self.record, figures.change, self.limit)
        if wrong:
            raise AssertionError(f"the optimiser proposed what does not hold: {'; '.join(wrong)}")
        return Proposal(figures, solution.proven, True, differs, self._why(figures))

    def _why(self, figures: Figures) -> str:
        names = {task_id: run.task.title or task_id for task_id, run in self.record.runs.items()}
        parts = [f"defers {names[t]}" for t in figures.change.defer]
        parts += [f"cuts {names[t]} to {minutes:g} min" for t, minutes in figures.change.trim.items()]
        parts += [f"breaks off {names[t]}" for t in figures.change.break_off]
        parts += [f"hands {names[t]} to {lane}" for t, lane in figures.change.move.items()]
        parts += [f"takes '{option}' for {a}" for a, option in figures.change.choose.items()]
        gained = (self.before.end_pet_min or 0.0) - (figures.end_pet_min or 0.0)
        what = ", ".join(parts) if parts else "gives up nothing"
        text = f"{what[:1].upper()}{what[1:]}: in {gained:.0f} min earlier at plan pace"
        return text + (" and loses least by priority." if figures.value_lost else ".")

    # -- time in hand

    def get_aheads(self) -> list[str]:
        """Get-aheads that fit, most valuable first, one upon the other, by the same rules."""
        waiting = [
            run for run in self.base.runs.values()
            if run.task.get_ahead and run.state == NOT_STARTED and self.base.in_plan(run.task.id)
        ]
        fitting: list[str] = []
        for run in sorted(waiting, key=lambda r: (r.task.priority, -r.task.value, r.task.id)):
            trial = figures_of(
                _with_get_aheads(self.base, [*fitting, run.task.id]), self.before, Change(),
                confidence=self.confidence, draws=self.draws,
            )
            if self.enough(trial):
                fitting.append(run.task.id)
        return fitting


def _with_get_aheads(record: Record, task_ids: Collection[str]) -> Record:
    """The record with these get-aheads counted as ordinary work, ahead of the required way home."""
    runs = {task_id: replace(run) for task_id, run in record.runs.items()}
    for task_id in task_ids:
        runs[task_id].task = runs[task_id].task.model_copy(update={"get_ahead": False})
    order = [t for t in record.order if t not in task_ids]
    home = len(order)
    while home > 0 and runs[order[home - 1]].task.required:
        home -= 1
    order[home:home] = task_ids
    return replace(record, runs=runs, order=order)
