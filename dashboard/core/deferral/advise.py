"""Advice: whether something must be given up, and up to three clearly different choices. It never acts on the plan."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from typing import Literal, NamedTuple

from dashboard.core.base.minutes import length
from dashboard.core.deferral.alternatives import options_to_try, tasks_of
from dashboard.core.deferral.briefed import briefed_chance
from dashboard.core.deferral.call import NEAR_BEST, Call, Cheapest, call_of, in_time_of
from dashboard.core.deferral.change import closed, with_change
from dashboard.core.deferral.confidence import TINY_MIN, ConfidenceCheck, minutes_over
from dashboard.core.deferral.figures import Figures, figures_of
from dashboard.core.deferral.hitting_sets import Cut
from dashboard.core.deferral.items import Deferral, deferral_of, tightened
from dashboard.core.deferral.levels import LOSS_SCALE
from dashboard.core.deferral.reasons import differs_from, nothing_reaches, why_of
from dashboard.core.deferral.rules import BrokenRule
from dashboard.core.deferral.search import FEW_LENGTHS, MORE_CHECKS, Found, OutOfChecks, Search
from dashboard.core.deferral.solve import solve
from dashboard.core.deferral.time_in_hand import Place, get_aheads
from dashboard.core.deferral.validate import faults
from dashboard.core.deferral.when_to_decide import Times
from dashboard.core.deferral.wins import PartName, wins_of
from dashboard.core.deferral.wish import Wish, asked_change, no_option_holds
from dashboard.core.events.change import Change
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import DRAWS, expect
from dashboard.core.schedule.pace import learn_pace
from dashboard.core.schedule.plan_pace import project
from dashboard.core.suits.budget import budgets

Basis = Literal["expected", "plan-pace"]
MOST_CHOICES = 3
MOST_REPAIRS = 20
MOST_TIGHTENINGS = 12
LEAST_STEP_MIN = 0.5
MOST_OPTIONS = 16
FIRST_DRAWS = 1000
FIRST_SPARE = (0.01, 0.04)  # probability above the wanted one that the first cut asks for, since it is judged by fewer draws
FIRST_CUT = "a first cut that reaches the wanted confidence; cheaper ways are being looked for"
STEPS = (0.5, 0.75, 0.9)

CHEAPEST = ", and nothing that costs less reaches what is wanted"
OTHER_OPTIONS = "with other options of the alternatives that is not proven"
CHEAPEST_OF_THE_REST = ", and of all that keep something of each choice before nothing costs less"

Cost = tuple[object, ...]


class Stopped(Exception):
    """Raised when the caller no longer wants the advice."""


@dataclass(frozen=True)
class Proposal:
    """One choice.

    Parameters
    ----------
    figures : Figures
    proven : bool
        It is proven that nothing costs less.
    proof : str
        What is proven, in words.
    reached : bool
        It reaches the goal. False: nothing does, and this is the earliest way in.
    differs, why : str
        Sentences about the choice.
    wins : mapping
        (kind, name) of a part -> minutes that it wins; empty: not worked out (yet).
    """

    figures: Figures
    proven: bool
    proof: str
    reached: bool
    differs: str
    why: str
    wins: Mapping[PartName, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Step:
    """One step of the ladder of certainty.

    Parameters
    ----------
    wanted : float or None
        Probability of being in by the limit; None: in by it at plan pace.
    figures : Figures or None
        Of the cheapest change that reaches it; None: nothing does.
    proven : bool
        It is proven that no change that reaches it costs less.
    """

    wanted: float | None
    figures: Figures | None
    proven: bool


@dataclass(frozen=True)
class Advised:
    """The advice of one instant.

    Parameters
    ----------
    needed : bool or None
        Something must be given up, decided before user constraints are applied. None: nothing remains to be done.
    basis : str
        See `advise`.
    confidence : float
        Wanted probability.
    now : Figures
        Of giving up nothing, without user constraints.
    proposals : list of Proposal
    get_ahead : mapping
        Get-ahead -> where it fits.
    obstacle : str
        Why the goal cannot be reached; empty when it can.
    call : Call or None
        Whether the room is called to decide; None: not worked out (yet).
    ladder : list of Step
        What certainty costs, least first; empty: not worked out (yet).
    """

    needed: bool | None
    basis: Basis
    confidence: float
    now: Figures
    proposals: list[Proposal]
    get_ahead: dict[str, Place]
    obstacle: str = ""
    call: Call | None = None
    ladder: list[Step] = field(default_factory=list)


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


def advise(
    record: Record, *, confidence: float | None = None, basis: Basis = "expected", wish: Wish | None = None,
    on_demand: bool = False, draws: int = DRAWS, workers: int = 1, choices: int = MOST_CHOICES,
    previous: Change | None = None, stop: Callable[[], bool] = lambda: False, previous_call: Call | None = None,
    better: Callable[[Advised], None] | None = None, ladder: bool = False,
) -> Advised:
    """Find what to give up so that the crew is in by the limit with the wanted confidence.

    Parameters
    ----------
    record : Record
        From `reconcile`.
    confidence : float, optional
        Wanted probability; None: that of the plan.
    basis : str
        ``expected``: every choice reaches the confidence on the draws. ``plan-pace``: limit and suits are kept on likely
        durations.
    wish : Wish, optional
        User constraints.
    on_demand : bool
        Propose choices even when nothing must be given up.
    draws : int
        Number of draws.
    workers : int
        Threads of the solver; with 1 the answer is the same every time.
    choices : int
        The largest number of choices.
    previous : Change, optional
        The first choice of the last advice. It saves time and does not change the answer.
    stop : callable
        Called between two steps; `Stopped` is raised when it returns True.
    previous_call : Call, optional
        The call before this one. It holds the new one back (see `call`).
    better : callable, optional
        Called with advice that is not final yet, each better than the one before: first with a set that reaches the goal and
        that nothing is proven of, then with the call and the best choice, then with the other choices before the ladder.
    ladder : bool
        Work out what certainty costs as well.

    Returns
    -------
    Advised
        Without proposals when nothing must be given up and none were asked for.

    Raises
    ------
    InputError
        The user constraints contradict the plan, the record or each other.
    Stopped
        When `stop` returned True.
    """
    wanted = record.plan.sortie.confidence if confidence is None else confidence
    adviser = _Adviser(
        record, wanted, basis, wish or Wish(), draws if basis == "expected" else 0, workers, choices, previous, stop
    )
    now = adviser.as_it_stands
    if not adviser.before.sequence:
        nothing = "Nothing remains to be done."
        return Advised(None, basis, wanted, now, [], {}, nothing, adviser.call([], previous_call))
    needed = not adviser.enough(now)
    asked = wish is not None and (wish.give_up or wish.resequence)
    told = Advised(needed, basis, wanted, now, [], {})
    if needed or on_demand or asked:
        found: list[Solved] = []
        if better is not None and (first := adviser.first_cut()) is not None:
            better(replace(told, proposals=adviser.in_order([first])))
        if (best := adviser.next_best(found)) is not None:
            found.append(best)
        proposals = adviser.in_order(found) or [adviser.earliest_way_in()]
        told = replace(told, proposals=proposals, call=adviser.call(proposals, previous_call))
        told = replace(told, obstacle="" if proposals[0].reached else proposals[0].why)
        if better is not None:
            better(told)
        if found and choices > 1:
            told = replace(told, proposals=adviser.in_order(adviser.with_others(found)))
        told = replace(told, proposals=[adviser.with_wins(one) for one in told.proposals])
        if better is not None and ladder:
            better(told)
    else:
        told = replace(told, call=adviser.call([], previous_call))
    if not needed:
        told = replace(told, get_ahead=adviser.time_in_hand())
    return replace(told, ladder=adviser.ladder(told.proposals)) if ladder else told


def call_now(
    record: Record, *, previous: Call | None = None, draws: int = DRAWS, stop: Callable[[], bool] = lambda: False
) -> Call:
    """Whether the room is called to decide, without the other choices. The cheapest set is looked for only when it matters.

    Parameters
    ----------
    record : Record
        From `reconcile`.
    previous : Call, optional
        The call before this one. It holds the new one back (see `call`).
    draws : int
        Number of draws, above 0.
    stop : callable
        As for `advise`.

    Returns
    -------
    Call

    Raises
    ------
    Stopped
        When `stop` returned True.
    ValueError
        When `draws` is 0.
    """
    if draws <= 0:
        raise ValueError(f"a call is judged on draws: expected more than 0, found {draws}")
    adviser = _Adviser(record, record.plan.sortie.confidence, "expected", Wish(), draws, 1, 1, None, stop)
    call = adviser.call(None, previous)
    assert call is not None
    return call


class _Adviser:
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
        """The change together with what the user asked to give up."""
        return change.but(defer=(*self.asked.defer, *change.defer), break_off=(*self.asked.break_off, *change.break_off)
        )

    @cached_property
    def as_it_stands(self) -> Figures:
        """Figures of giving up nothing, not even what the user asked for."""
        return figures_of(self.record, self.before, Change(), confidence=self.confidence, draws=self.draws)

    @cached_property
    def times(self) -> Times:
        """Projected times with nothing given up."""
        return Times(self.before, expect(self.record, self.before, draws=self.draws) if self.draws else None)

    def figures(self, change: Change) -> Figures:
        """Figures of a change together with what the user asked to give up."""
        return figures_of(
            self.record, self.before, self.whole(change), confidence=self.confidence, draws=self.draws,
            asked=self.asked.given_up(), times=self.times,
        )

    def enough(self, figures: Figures) -> bool:
        """Whether the goal is reached: the wanted confidence, or at plan pace the limit and the reserves of the suits."""
        if figures.in_by_limit is not None:
            return figures.in_by_limit >= self.confidence
        return figures.short_by_min <= TINY_MIN

    # -- proposals

    def next_best(self, found: Sequence[Solved]) -> Solved | None:
        """The best answer that keeps something of each answer before; None when there is none."""
        given = [sorted(self._own_work(one)) for one in found]
        return self.best(given) if all(given) else None

    def _own_work(self, solved: Solved) -> set[str]:
        """What an answer gives up beyond what was asked. Keeping a leg keeps nothing: it is worth the work at its end."""
        own = set(solved.figures.change.given_up()) - set(self.asked.given_up())
        return {t for t in own if self.record.runs[t].task.leg is None}

    def with_others(self, found: list[Solved]) -> list[Solved]:
        """The answers with clearly different ones, up to as many as are wanted."""
        while len(found) < self.choices and (solved := self.next_best(found)) is not None:
            found = [*found, solved]
        return found

    def with_wins(self, proposal: Proposal) -> Proposal:
        """The proposal with what each of its parts wins."""
        change = proposal.figures.change
        return replace(proposal, wins=wins_of(self.record, change, draws=self.draws, stop=self.stop))

    def first_cut(self) -> Solved | None:
        """An answer within a fraction of a second: all that may go, and taken back what need not, judged by the limit alone."""
        if self.basis == "plan-pace" or self.wish.resequence:
            return None
        base, problem = self._problem({})
        test = ConfidenceCheck(base, project(base), self.confidence, min(self.draws, FIRST_DRAWS), self.pace)
        for spare in FIRST_SPARE:
            search = Search(
                problem, {}, partial(test.likely, spare=spare), test.late, test.hopeless, lambda change: 0.0,
                most_trims=FEW_LENGTHS,
            )
            found = search.filled()
            figures = self.figures(found.change) if found is not None else None
            if figures is not None and not self.faults(figures, None) and self.enough(figures):
                return Solved(figures, False, FIRST_CUT)
        return None

    def call(self, proposals: Sequence[Proposal] | None, previous: Call | None) -> Call | None:
        """The call, with the first choice as the cheapest set (None: it is looked for if needed); None at plan pace."""
        if self.basis == "plan-pace":
            return None
        expected = self.times.expected
        in_time = None
        if expected is not None:
            budget = budgets(self.record, self.before)
            in_time = in_time_of(minutes_over(self.record, budget, expected, self.limit))
        briefed = briefed_chance(self.record.plan, self.draws) if previous is None or previous.as_briefed is None else None

        def cheapest() -> Cheapest | None:
            known = proposals
            if known is None and (best := self.next_best([])) is not None:
                known = self.in_order([best])
            first = known[0] if known and known[0].reached else self.near_best()
            if first is None or not first.figures.parts:
                return None
            return Cheapest(first.figures.change, first.figures.parts, first.figures.in_by_limit or 0.0)

        test = ConfidenceCheck(self.record, self.before, self.confidence, self.draws, self.pace)

        return call_of(
            self.record, self.before, expected, in_time, cheapest, test.chance, previous, as_briefed=briefed,
            confidence=self.confidence,
        )

    def near_best(self) -> Proposal | None:
        """The cheapest choice that nearly reaches the best that can be reached; None when nothing may be given up."""
        most = 0.0
        for options in self.options():
            change = self._searches(options, ())[0].everything()
            most = max(most, self.figures(change).in_by_limit or 0.0)
        target = most - NEAR_BEST
        lower = self.with_confidence(target)
        found = lower.next_best([]) if target > 0 else None
        return lower.in_order([found])[0] if found is not None else None

    def with_confidence(self, confidence: float) -> _Adviser:
        """The same request for one choice with another wanted probability."""
        return _Adviser(
            self.record, confidence, self.basis, self.wish, self.draws, self.workers, 1, self.previous, self.stop
        )

    def ladder(self, proposals: Sequence[Proposal]) -> list[Step]:
        """The cheapest change at plan pace and for each step of certainty. What fails one step fails the next as well."""
        at_plan_pace = _Adviser(
            self.record, self.confidence, "plan-pace", self.wish, 0, self.workers, 1, self.previous, self.stop
        )
        steps = [self._step(None, at_plan_pace.best([]))]
        known: dict[str, list[list[Cut]]] = {}
        for wanted in sorted({*STEPS, self.confidence} if self.basis == "expected" else ()):
            if wanted == self.confidence and proposals:
                first = proposals[0]
                steps.append(Step(wanted, first.figures if first.reached else None, first.proven))
                continue
            lower = self.with_confidence(wanted)
            lower.known_cuts = known
            steps.append(self._step(wanted, lower.best([])))
            known = {key: [search.cuts for search in searches] for key, searches in lower.searches.items()}
        return steps

    def _step(self, wanted: float | None, solved: Solved | None) -> Step:
        """One step with the figures as drawn."""
        return Step(wanted, self.figures(solved.figures.change) if solved else None, solved is not None and solved.proven)

    def in_order(self, found: Sequence[Solved]) -> list[Proposal]:
        """The choices, cheapest first. Without a proof, one that was found later may cost less than the first."""
        ranked = sorted(found, key=lambda solved: self._cost(solved.figures))
        told = []
        for place, one in enumerate(ranked):
            cheaper = [solved.figures.change for solved in ranked[:place]]
            reached = ""
            if one.proven and found[:place] == ranked[:place]:
                reached = CHEAPEST_OF_THE_REST if cheaper else CHEAPEST
            why = why_of(self.record, one.figures, self.as_it_stands, reached)
            differs = differs_from(cheaper, one.figures.change, proven=one.proven)
            told.append(Proposal(one.figures, one.proven, one.proof, True, differs, why))
        return told

    def best(self, keep_one_of: Sequence[Sequence[str]]) -> Solved | None:
        """The best answer over all options of the open alternatives; of equal answers the default options win."""
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
        search = self._searches(options, ())[0]
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
        found = self._searches(options, ())[0].filled(keep_one_of, start)
        if found is None:
            return None
        figures = self.figures(found.change)
        return Solved(figures, False, _proof(found)) if not self.faults(figures, None) and self.enough(figures) else None

    def _cheaper(self, one: Solved, other: Solved | None) -> Solved:
        """The cheaper of two answers; the first if they cost the same."""
        return one if other is None or self._cost(one.figures) <= self._cost(other.figures) else other

    def _cost(self, figures: Figures) -> Cost:
        classes = sorted({run.task.priority for run in self.record.runs.values()})
        lost = [round(figures.value_lost.get(c, 0.0), 6) for c in classes]
        starts = sorted(self.times.start(t) or 0.0 for t in figures.change.given_up()) if self.draws else []
        latest_first = tuple(-round(at, 3) for at in starts)
        return (*lost, figures.change.count(), latest_first, round(figures.end_pet_min or 0.0, 3))

    def options(self) -> list[dict[str, str]]:
        """The sets of options to solve for, at most `MOST_OPTIONS` of them."""
        found = options_to_try(self.record, self.base, self.wish.keep)
        if not found:
            raise no_option_holds(self.wish)
        return found[:MOST_OPTIONS]

    def _problem(
        self, options: Mapping[str, str], tighten_min: float = 0.0, order: tuple[str, ...] = ()
    ) -> tuple[Record, Deferral]:
        base = with_change(self.base, Change(choose=options, order=order)) if options or order else self.base
        projection = project(base)
        return base, deferral_of(
            base, projection, budgets(base, projection), self.limit, tighten_min=tighten_min, keep=self.wish.keep,
            stay=tasks_of(self.record.plan, options),
        )

    def faults(self, figures: Figures, limit: float | None) -> list[BrokenRule]:
        """Rules that a proposal breaks, in words."""
        return faults(self.record, figures.change, limit, asked=self.asked.given_up())

    # -- the ways of solving

    def _at_plan_pace(self, options: Mapping[str, str], keep_one_of: Sequence[Sequence[str]]) -> Outcome:
        """The optimum of the scheduling model at plan pace.

        The model works in whole seconds, so the validator may refuse an answer by a second. Then the problem is tightened by
        what is missing, or this one answer is excluded, and it is solved again. Excluding one answer keeps the proof.
        """
        _, problem = self._problem(options)
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
        found, certain = self._found(self._searches(options, order), keep_one_of, _bound(to_beat))
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

    def _searches(self, options: Mapping[str, str], order: tuple[str, ...]) -> list[Search]:
        key = repr((sorted(options.items()), order))
        if key not in self.searches:
            base, problem = self._problem(options, order=order)
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
            _, problem = self._problem(options, tighten)
            solution = solve(
                problem, resequence=resequence, workers=self.workers, keep_one_of=keep_one_of, hint=self.previous
            )
            order = solution.change.order if solution and resequence else ()
            figures = self.figures(solution.change.but(choose=options, order=order)) if solution else None
            if figures is None or self.enough(figures):
                passing = tighten
                if figures is not None and not self.faults(figures, None):
                    proof = f"least cost proven at plan pace, in {length(tighten)} before the limit; not proven as drawn"
                    cost = self._cost(figures)
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

    # -- nothing reaches it

    def earliest_way_in(self) -> Proposal:
        """The change with the earliest end, for when nothing reaches the goal."""
        best: tuple[float, Figures, bool] | None = None
        givable = False
        for options in self.options():
            _, problem = self._problem(options)
            givable = givable or any(
                i.may_defer or i.closeout_s is not None or i.least_s < i.length_s for i in problem.items
            )
            solution = solve(problem, resequence=self.wish.resequence, limit=False, workers=self.workers)
            if solution is None:
                continue
            order = solution.change.order if self.wish.resequence else ()
            figures = self.figures(solution.change.but(choose=options, order=order))
            end = round(figures.end_pet_min or 0.0, 3)
            if best is None or end < best[0]:
                best = (end, figures, solution.proven)
        figures = best[1] if best else self.figures(Change())
        drawn = self.basis == "expected"
        wanted = "reaches the wanted confidence" if drawn else "keeps the limit and every suit's reserve at plan pace"
        budget = budgets(self.record, self.before)
        because = nothing_reaches(self.record, budget, givable, self.limit, bool(self.wish.keep), wanted)
        why = f"{because} This is the earliest way in."
        proof = "earliest end proven at plan pace" if best and best[2] else "the earliest end found; not proven"
        return Proposal(figures, bool(best and best[2]), proof, False, "the earliest way in", why)

    # -- time in hand

    def time_in_hand(self) -> dict[str, Place]:
        """Get-aheads that still fit when the same goal is to be reached."""
        test = ConfidenceCheck(self.base, project(self.base), self.confidence, self.draws, self.pace)

        def fits(record: Record) -> bool:
            if self.stop():
                raise Stopped
            return test.fits(record)

        return get_aheads(self.base, fits, self.limit)


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


__all__ = ["Advised", "Basis", "Proposal", "Step", "Stopped", "Wish", "advise", "call_now"]
