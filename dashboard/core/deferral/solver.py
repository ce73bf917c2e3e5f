"""One request for advice, and the ways of finding the change of least cost that reaches its goal."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal, NamedTuple

from dashboard.core.base.minutes import length
from dashboard.core.deferral.alternatives import options_to_try, tasks_of
from dashboard.core.deferral.change import closed, with_change
from dashboard.core.deferral.confidence import TINY_MIN, ConfidenceCheck
from dashboard.core.deferral.figures import Figures, figures_of
from dashboard.core.deferral.hitting_sets import Cut
from dashboard.core.deferral.items import Deferral, deferral_of, tightened
from dashboard.core.deferral.levels import LOSS_SCALE
from dashboard.core.deferral.rules import BrokenRule
from dashboard.core.deferral.search import FEW_LENGTHS, MORE_CHECKS, Found, OutOfChecks, Search
from dashboard.core.deferral.solve import solve
from dashboard.core.deferral.validate import faults
from dashboard.core.deferral.when_to_decide import Times
from dashboard.core.deferral.wish import Wish, asked_change, no_option_holds
from dashboard.core.events.change import Change
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import expect
from dashboard.core.schedule.pace import learn_pace
from dashboard.core.schedule.plan_pace import project
from dashboard.core.suits.budget import budgets

Basis = Literal["expected", "plan-pace"]
MOST_REPAIRS = 20
MOST_TIGHTENINGS = 12
LEAST_STEP_MIN = 0.5
MOST_OPTIONS = 16
OTHER_OPTIONS = "with other options of the alternatives that is not proven"

Cost = tuple[object, ...]


class Stopped(Exception):
    """Raised when the caller no longer wants the advice."""


@dataclass(frozen=True)
class Solved:
    """A change that reaches the goal, and how much of that is proven."""

    figures: Figures
    proven: bool
    proof: str


class Outcome(NamedTuple):
    """The answer under one set of options.

    Parameters
    ----------
    solved : Solved or None
        None: nothing was found, or nothing that costs less than the bound.
    certain : bool
        It is proven that no change costs less; without an answer, that there is none.
    """

    solved: Solved | None
    certain: bool


class Solver:
    """One request for advice. `base` is the record with the tasks given up that the user asked to give up."""

    def __init__(
        self, record: Record, confidence: float, basis: Basis, wish: Wish, draws: int, workers: int, choices: int,
        previous: Change | None, stop: Callable[[], bool],
    ) -> None:
        self.record, self.confidence, self.basis, self.wish = record, confidence, basis, wish
        self.draws, self.workers, self.choices, self.previous, self.stop = draws, workers, choices, previous, stop
        asked = asked_change(record, wish)
        self.asked = closed(record, asked) if asked.given_up() else asked
        self.base = with_change(record, self.asked) if self.asked.given_up() else record
        self.before = project(record)
        self.limit = record.plan.sortie.limit_less_reserve_pet_min
        self.pace = learn_pace(record)
        self.searches: dict[str, list[Search]] = {}
        self.known_cuts: dict[str, list[list[Cut]]] = {}

    def whole(self, change: Change) -> Change:
        """The change together with what the user asked to give up.

        Parameters
        ----------
        change
            Of an answer.

        Returns
        -------
        Change
        """
        rest = change.without_tasks(self.asked.given_up())
        return rest.but(defer=(*self.asked.defer, *rest.defer), break_off=(*self.asked.break_off, *rest.break_off))

    @cached_property
    def as_it_stands(self) -> Figures:
        """Figures of giving up nothing, not even what the user asked for."""
        return figures_of(self.record, self.before, Change(), confidence=self.confidence, draws=self.draws)

    @cached_property
    def times(self) -> Times:
        """Projected times with nothing given up."""
        return Times(self.before, expect(self.record, self.before, draws=self.draws) if self.draws else None)

    def figures(self, change: Change) -> Figures:
        """Figures of a change together with what the user asked to give up.

        Parameters
        ----------
        change
            Of an answer.

        Returns
        -------
        Figures
        """
        return figures_of(
            self.record, self.before, self.whole(change), confidence=self.confidence, draws=self.draws,
            asked=self.asked.given_up(), times=self.times,
        )

    def enough(self, figures: Figures) -> bool:
        """Whether the goal is reached: the wanted confidence, or at plan pace the limit and the reserves of the suits.

        Parameters
        ----------
        figures
            Of an answer.

        Returns
        -------
        bool
        """
        if figures.in_by_limit is not None:
            return figures.in_by_limit >= self.confidence
        return figures.short_by_min <= TINY_MIN

    def best(self, keep_one_of: Sequence[Sequence[str]]) -> Solved | None:
        """The best answer over all options of the open alternatives; of equal answers the default options win.

        Parameters
        ----------
        keep_one_of : sequence of sequence of str
            Of each of these sets the answer keeps at least one task.

        Returns
        -------
        Solved or None
            None: nothing reaches the goal.

        Raises
        ------
        Stopped
            When the caller no longer wants the advice.
        """
        best: Solved | None = None
        uncertain = []
        for options in self.options():
            if self.stop():
                raise Stopped
            found = self._under(options, keep_one_of, best.figures if best else None)
            uncertain += [] if found.certain else [options]
            if found.solved is not None:
                best = found.solved if best is None else self._cheaper(best, found.solved)
        if best is None or not best.proven or all(self._lose_more(options, keep_one_of, best) for options in uncertain):
            return best
        return replace(best, proven=False, proof=f"{best.proof}; {OTHER_OPTIONS}")

    def _lose_more(self, options: Mapping[str, str], keep_one_of: Sequence[Sequence[str]], best: Solved) -> bool:
        """Whether it is proven that these options lose more than the best answer, though their own search gave no proof."""
        if self.basis == "plan-pace" or self.wish.resequence:
            return False
        search = self.searches_of(options, ())[0]
        search.left = MORE_CHECKS
        try:
            return search.best(keep_one_of, _bound(best.figures)) is None
        except OutOfChecks:
            return False

    def _under(
        self, options: Mapping[str, str], keep_one_of: Sequence[Sequence[str]], to_beat: Figures | None
    ) -> Outcome:
        """The answer with these options; `to_beat` are the figures of the best answer with other options."""
        if self.basis == "plan-pace":
            return self._at_plan_pace(options, keep_one_of)
        if self.wish.resequence:
            return Outcome(self._resequenced(options, keep_one_of), False)
        drawn = self._drawn(options, keep_one_of, to_beat)
        if drawn.certain or keep_one_of or to_beat is not None:  # more is not worth the time
            return drawn
        tightened = self._tightened(options, keep_one_of)
        if tightened is None:
            return drawn
        better = self._cheaper(tightened, self._taken_back(options, keep_one_of, tightened))
        return Outcome(better if drawn.solved is None else self._cheaper(drawn.solved, better), False)

    def _resequenced(self, options: Mapping[str, str], keep_one_of: Sequence[Sequence[str]]) -> Solved | None:
        """The answer with the order in the lanes free: the order at plan pace, then the least cost in this order."""
        tightened = self._tightened(options, keep_one_of)
        if tightened is None:
            return None
        drawn = self._drawn(options, keep_one_of, tightened.figures, tightened.figures.change.order).solved
        if drawn is None:
            return tightened
        proof = f"in this order: {drawn.proof}; other orders may do better"
        return self._cheaper(tightened, replace(drawn, proven=False, proof=proof))

    def _taken_back(
        self, options: Mapping[str, str], keep_one_of: Sequence[Sequence[str]], solved: Solved
    ) -> Solved | None:
        """The answer with tasks taken back one by one as long as it still reaches the confidence; not proven."""
        own = set(self.asked.given_up())
        change = solved.figures.change
        start = change.but(defer=tuple(t for t in change.defer if t not in own),
            break_off=tuple(t for t in change.break_off if t not in own),
        )
        found = self.searches_of(options, ())[0].filled(keep_one_of, start)
        if found is None:
            return None
        figures = self.figures(found.change)
        return Solved(figures, False, _proof(found)) if not self.faults(figures, None) and self.enough(figures) else None

    def _cheaper(self, one: Solved, other: Solved | None) -> Solved:
        """The cheaper of two answers; the first if they cost the same."""
        return one if other is None or self.cost(one.figures) <= self.cost(other.figures) else other

    def cost(self, figures: Figures) -> Cost:
        """What answers are ranked by, least first: value lost by class, number of acts, latest acts, earliest end.

        Parameters
        ----------
        figures
            Of an answer.

        Returns
        -------
        tuple
            Comparable with that of another answer to the same request.
        """
        classes = sorted({run.task.priority for run in self.record.runs.values()})
        lost = [round(figures.value_lost.get(c, 0.0), 6) for c in classes]
        starts = sorted(self.times.start(t) or 0.0 for t in figures.change.given_up()) if self.draws else []
        latest_first = tuple(-round(at, 3) for at in starts)
        return (*lost, figures.change.count(), latest_first, round(figures.end_pet_min or 0.0, 3))

    def options(self) -> list[dict[str, str]]:
        """The sets of options to solve for, at most `MOST_OPTIONS` of them.

        Returns
        -------
        list of dict
            Alternative -> option.

        Raises
        ------
        InputError
            When the user constraints leave no option.
        """
        found = options_to_try(self.record, self.base, self.wish.keep)
        if not found:
            raise no_option_holds(self.wish)
        return found[:MOST_OPTIONS]

    def problem(
        self, options: Mapping[str, str], tighten_min: float = 0.0, order: tuple[str, ...] = ()
    ) -> tuple[Record, Deferral]:
        """The problem as the scheduling model and the search take it.

        Parameters
        ----------
        options : mapping of str to str
            Alternative -> option.
        tighten_min : float
            Minutes by which the limit and the time that the suits last are shortened.
        order : tuple of str
            New order of some tasks; empty: as in the plan of record.

        Returns
        -------
        tuple of Record and Deferral
            The record with the options and the order, and the problem made of it.
        """
        base = with_change(self.base, Change(choose=options, order=order)) if options or order else self.base
        projection = project(base)
        return base, deferral_of(
            base, projection, budgets(base, projection), self.limit, tighten_min=tighten_min, keep=self.wish.keep,
            stay=tasks_of(self.record.plan, options),
        )

    def faults(self, figures: Figures, limit: float | None) -> list[BrokenRule]:
        """Rules that a proposal breaks, in words.

        Parameters
        ----------
        figures
            Of the proposal.
        limit
            PET minutes by which its plan-pace end must lie; None: any.

        Returns
        -------
        list of BrokenRule
        """
        return faults(self.record, figures.change, limit, asked=self.asked.given_up())

    def _at_plan_pace(self, options: Mapping[str, str], keep_one_of: Sequence[Sequence[str]]) -> Outcome:
        """The optimum of the scheduling model at plan pace.

        The model works in whole seconds, so the validator may refuse an answer by a second. Then the problem is tightened by
        what is missing, or this one answer is excluded, and it is solved again. Excluding one answer keeps the proof.
        """
        _, problem = self.problem(options)
        refused: list[Change] = []
        exact = True
        for _ in range(MOST_REPAIRS):
            solution = solve(
                problem, resequence=self.wish.resequence, workers=self.workers, keep_one_of=keep_one_of,
                failed=refused, hint=self.previous,
            )
            if solution is None:
                return Outcome(None, exact)
            change = solution.change.but(choose=options, order=solution.change.order if self.wish.resequence else ()
            )
            figures = self.figures(change)
            if not self.faults(figures, self.limit) and self.enough(figures):
                proven = solution.proven and exact
                return Outcome(Solved(figures, proven, _proof_at_plan_pace(solution.proven, exact)), proven)
            exact = exact and not change.trim and not change.order
            tighter = tightened(problem, figures.end_pet_min, figures.margins_min, figures.limiting)
            if change.trim and tighter is not None:
                problem = tighter
            else:
                refused.append(solution.change)
        return Outcome(None, False)

    def _drawn(
        self, options: Mapping[str, str], keep_one_of: Sequence[Sequence[str]], to_beat: Figures | None,
        order: tuple[str, ...] = (),
    ) -> Outcome:
        """The answer of least cost that reaches the confidence on the draws, in the order of the plan of record or in `order`."""
        found, certain = self._found(self.searches_of(options, order), keep_one_of, _bound(to_beat))
        if found is None:
            return Outcome(None, certain)
        figures = self.figures(found.change.but(order=order))
        if self.faults(figures, None) or not self.enough(figures):
            return Outcome(None, False)
        return Outcome(Solved(figures, certain, _proof(found)), certain)

    def _found(
        self, searches: Sequence[Search], keep_one_of: Sequence[Sequence[str]], bound: Mapping[int, int] | None
    ) -> tuple[Found | None, bool]:
        """The answer and whether it is proven: with trims in whole minutes, else with few lengths, else the best found."""
        for search in searches:
            try:
                found = search.best(keep_one_of, bound)
            except OutOfChecks:
                continue
            if found is not None:
                return found, found.least and found.by_minutes
            return None, search.by_minutes or bound is None
        return searches[-1].filled(keep_one_of), False

    def searches_of(self, options: Mapping[str, str], order: tuple[str, ...]) -> list[Search]:
        """The searches on the draws, the finest first: with trims in whole minutes, then with few lengths.

        Parameters
        ----------
        options : mapping of str to str
            Alternative -> option.
        order : tuple of str
            New order of some tasks; empty: as in the plan of record.

        Returns
        -------
        list of Search
            The same ones at each call, so that they keep what they have learned.
        """
        key = repr((sorted(options.items()), order))
        if key not in self.searches:
            base, problem = self.problem(options, order=order)
            test = ConfidenceCheck(base, project(base), self.confidence, self.draws, self.pace)

            def passes(change: Change) -> bool:
                if self.stop():
                    raise Stopped
                return test.passes(change)

            def end_of(change: Change) -> float:
                return project(with_change(base, change)).end_pet_min or 0.0

            asked = (passes, test.late, test.hopeless, end_of)
            starts = {i.id: at for i in problem.items if (at := self.times.start(i.id)) is not None and not i.in_work}
            self.searches[key] = [Search(problem, options, *asked, starts=starts)]
            if self.searches[key][0].most_lengths > FEW_LENGTHS:
                self.searches[key].append(Search(problem, options, *asked, FEW_LENGTHS, starts))
            for search, cuts in zip(self.searches[key], self.known_cuts.get(key, ()), strict=False):
                search.cuts = list(cuts)
        return self.searches[key]

    def _tightened(self, options: Mapping[str, str], keep_one_of: Sequence[Sequence[str]]) -> Solved | None:
        """The plan-pace optimum against a limit that is tightened until the confidence is reached; not proven on the draws.

        The tightening is bisected. The cheapest of the optima that reach the confidence is taken.
        """
        best: tuple[Cost, Solved] | None = None
        resequence = self.wish.resequence
        failing, passing, tighten = 0.0, None, 0.0
        for _ in range(MOST_TIGHTENINGS):
            if self.stop():
                raise Stopped
            _, problem = self.problem(options, tighten)
            solution = solve(
                problem, resequence=resequence, workers=self.workers, keep_one_of=keep_one_of, hint=self.previous
            )
            order = solution.change.order if solution and resequence else ()
            figures = self.figures(solution.change.but(choose=options, order=order)) if solution else None
            if figures is None or self.enough(figures):
                passing = tighten
                if figures is not None and not self.faults(figures, None):
                    proof = f"least cost proven at plan pace, in {length(tighten)} before the limit; not proven as drawn"
                    cost = self.cost(figures)
                    best = (cost, Solved(figures, False, proof)) if best is None or cost < best[0] else best
                if tighten == 0.0:
                    break
            else:
                failing = max(tighten, self.limit - (solution.end_pet_min if solution else self.limit))
            if passing is None:
                tighten = max(failing + 1.0, tighten + (figures.short_by_min if figures else 0.0))
            elif passing - failing <= LEAST_STEP_MIN:
                break
            else:
                tighten = (failing + passing) / 2
        return best[1] if best else None


def _bound(to_beat: Figures | None) -> dict[int, int] | None:
    """Upper bound of the loss in each priority class, in the units of the search."""
    if to_beat is None:
        return None
    return {c: round(lost * LOSS_SCALE) for c, lost in to_beat.value_lost.items()}


def _proof_at_plan_pace(proven: bool, exact: bool) -> str:
    if not proven:
        return "the best found in the time; not proven"
    return "least cost proven at plan pace" if exact else "put right after the optimum did not quite hold; not proven"


def _proof(found: Found) -> str:
    if not found.least:
        return "reaches the wanted confidence; that nothing cheaper does is not proven"
    if not found.by_minutes:
        return f"reaches the wanted confidence; least cost with {FEW_LENGTHS} lengths per trim, other lengths not proven"
    rest = "" if found.earliest else "; of equal cost the earliest end is not proven"
    return f"least cost proven with the wanted confidence as drawn{rest}"
