"""Advice: whether something must be given up, and up to three clearly different choices. It never acts on the plan."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial

from dashboard.core.deferral.briefed import briefed_chance
from dashboard.core.deferral.call import FIRST_CLASS, NEAR_BEST, Call, Cheapest, call_of, in_time_of
from dashboard.core.deferral.confidence import ConfidenceCheck, minutes_over
from dashboard.core.deferral.figures import Figures
from dashboard.core.deferral.hitting_sets import Cut
from dashboard.core.deferral.reasons import NEAR_THE_BEST, differs_from, nothing_reaches, why_of
from dashboard.core.deferral.search import FEW_LENGTHS, Search
from dashboard.core.deferral.solve import solve
from dashboard.core.deferral.solver import Basis, Solved, Solver, Stopped
from dashboard.core.deferral.time_in_hand import GetAheadPlace, get_aheads
from dashboard.core.deferral.wins import PartName, Win, wins_of
from dashboard.core.deferral.wish import Wish
from dashboard.core.events.change import Change
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import DRAWS
from dashboard.core.schedule.plan_pace import project
from dashboard.core.suits.budget import budgets

MOST_CHOICES = 3
FIRST_DRAWS = 1000
FIRST_SPARE = (0.01, 0.04)  # probability above the wanted one that the first cut asks for, since it is judged by fewer draws
FIRST_CUT = "a first cut that reaches the wanted confidence; cheaper ways are being looked for"
SAME_END_MIN = 0.001
STEPS = (0.5, 0.75, 0.9)

DEARER = f"Every clearly different way that was found gives up something of priority {FIRST_CLASS}."
CHEAPEST = ", and nothing that costs less reaches what is wanted"
CHEAPEST_OF_THE_REST = ", and of all that keep something of each choice before nothing costs less"


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
        It reaches the goal. False: nothing does, and this is the earliest way in or near the best chance.
    differs, why : str
        Sentences about the choice.
    wins : mapping
        (kind, name) of a part -> what it wins; empty: not worked out (yet).
    """

    figures: Figures
    proven: bool
    proof: str
    reached: bool
    differs: str
    why: str
    wins: Mapping[PartName, Win] = field(default_factory=dict)


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
    get_ahead: dict[str, GetAheadPlace]
    obstacle: str = ""
    call: Call | None = None
    ladder: list[Step] = field(default_factory=list)


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
    advised = Advised(needed, basis, wanted, now, [], {})
    if needed or on_demand or asked:
        found: list[Solved] = []
        if better is not None and (first := adviser.first_cut()) is not None:
            better(replace(advised, proposals=adviser.in_order([first])))
        if (best := adviser.next_best(found)) is not None:
            found.append(best)
        proposals = adviser.in_order(found) or adviser.out_of_reach()
        advised = replace(advised, proposals=proposals, call=adviser.call(proposals, previous_call))
        advised = replace(advised, obstacle="" if proposals[0].reached else proposals[0].why)
        if better is not None:
            better(advised)
        if found and choices > 1:
            found, dearer = adviser.with_others(found)
            advised = replace(advised, proposals=adviser.in_order(found))
            if dearer:
                last = advised.proposals[-1]
                advised = replace(advised, proposals=[*advised.proposals[:-1], replace(last, why=f"{last.why} {DEARER}")])
        advised = replace(advised, proposals=[adviser.with_wins(one) for one in advised.proposals])
        if better is not None and ladder:
            better(advised)
    else:
        advised = replace(advised, call=adviser.call([], previous_call))
    if not needed:
        advised = replace(advised, get_ahead=adviser.time_in_hand())
    return replace(advised, ladder=adviser.ladder(advised.proposals)) if ladder else advised


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


class _Adviser(Solver):
    """One request for advice, and each part of the answer: choices, call, ladder, earliest way in, time in hand."""

    def next_best(self, found: Sequence[Solved]) -> Solved | None:
        """The best answer that keeps something of each answer before; None when there is none."""
        given = [sorted(self._own_work(one)) for one in found]
        return self.best(given) if all(given) else None

    def _own_work(self, solved: Solved) -> set[str]:
        """What an answer gives up beyond what was asked. Keeping a leg keeps nothing: it is worth the work at its end."""
        own = set(solved.figures.change.given_up()) - set(self.asked.given_up())
        return {t for t in own if self.record.runs[t].task.leg is None}

    def with_others(self, found: list[Solved]) -> tuple[list[Solved], bool]:
        """The answers with clearly different ones, up to as many as are wanted.

        What an answer keeps may go along all the same (what serves a leg that is not needed). Then it is the same as one before.
        None gives up something of the first class where the best answer spares all of it: nobody chooses that. The second value
        says that for this reason there are no more.
        """
        spares = not found[0].figures.value_lost.get(FIRST_CLASS, 0.0)
        while len(found) < self.choices and (solved := self.next_best(found)) is not None:
            if any(solved.figures.change == one.figures.change for one in found):
                break
            if spares and solved.figures.value_lost.get(FIRST_CLASS, 0.0) > 0.0:
                return found, True
            found = [*found, solved]
        return found, False

    def with_wins(self, proposal: Proposal) -> Proposal:
        """The proposal with what each of its parts wins."""
        change = proposal.figures.change
        return replace(proposal, wins=wins_of(self.record, change, draws=self.draws, stop=self.stop))

    def first_cut(self) -> Solved | None:
        """An answer within a fraction of a second: all that may go, and taken back what need not, judged by the limit alone."""
        if self.basis == "plan-pace" or self.wish.resequence:
            return None
        base, problem = self.problem({})
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
            first = known[0] if known and known[0].reached else self.near_best
            if first is not None:
                figures = first.figures
            elif (self.most.in_by_limit or 0.0) <= NEAR_BEST:
                figures = self.most  # what may go gains too little to be asked for, which is then said
            else:
                return None
            return Cheapest(figures.change, figures.parts, figures.in_by_limit or 0.0) if figures.parts else None

        test = ConfidenceCheck(self.record, self.before, self.confidence, self.draws, self.pace)

        return call_of(
            self.record, self.before, expected, in_time, cheapest, test.chance, previous, as_briefed=briefed,
            confidence=self.confidence,
        )

    def out_of_reach(self) -> list[Proposal]:
        """When nothing reaches the goal: the earliest way in, and what the call rests on where that has a better chance.

        Where the latter is in as early at plan pace, it is itself the earliest way in.
        """
        earliest = self.earliest_way_in()
        if self.choices == 1 or self.basis == "plan-pace" or (near := self.near_best) is None:
            return [earliest]
        if (near.figures.in_by_limit or 0.0) <= (earliest.figures.in_by_limit or 0.0):
            return [earliest]
        figures = self.figures(near.figures.change)
        if (figures.end_pet_min or 0.0) <= (earliest.figures.end_pet_min or 0.0) + SAME_END_MIN:
            return [replace(earliest, figures=figures)]
        why = why_of(self.record, figures, self.as_it_stands)
        return [earliest, Proposal(figures, False, near.proof, False, NEAR_THE_BEST, why)]

    @cached_property
    def most(self) -> Figures:
        """Of giving up all that may go, under the options with the best chance."""
        all_of_it = [self.figures(self.searches_of(options, ())[0].everything()) for options in self.options()]
        return max(all_of_it, key=lambda figures: figures.in_by_limit or 0.0)

    @cached_property
    def near_best(self) -> Proposal | None:
        """The cheapest choice that nearly reaches the best that can be reached; None when that has hardly any chance."""
        target = (self.most.in_by_limit or 0.0) - NEAR_BEST
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
        ranked = sorted(found, key=lambda solved: self.cost(solved.figures))
        made: list[Proposal] = []
        for place, one in enumerate(ranked):
            cheaper = [solved.figures.change for solved in ranked[:place]]
            reached = ""
            if one.proven and found[:place] == ranked[:place]:
                reached = CHEAPEST_OF_THE_REST if cheaper else CHEAPEST
            why = why_of(self.record, one.figures, self.as_it_stands, reached)
            differs = differs_from(cheaper, one.figures.change, proven=one.proven)
            made.append(Proposal(one.figures, one.proven, one.proof, True, differs, why))
        return made

    def earliest_way_in(self) -> Proposal:
        """The change with the earliest end, for when nothing reaches the goal."""
        best: tuple[float, Figures, bool] | None = None
        givable = False
        for options in self.options():
            _, problem = self.problem(options)
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

    def time_in_hand(self) -> dict[str, GetAheadPlace]:
        """Get-aheads that still fit when the same goal is to be reached."""
        test = ConfidenceCheck(self.base, project(self.base), self.confidence, self.draws, self.pace)

        def fits(record: Record) -> bool:
            if self.stop():
                raise Stopped
            return test.fits(record)

        return get_aheads(self.base, fits, self.limit)


__all__ = ["Advised", "Basis", "Proposal", "Step", "Stopped", "Wish", "advise", "call_now"]
