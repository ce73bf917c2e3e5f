"""The least-cost set that reaches the wanted confidence when drawn.

In strict order: value lost in class 1, then 2, and so on, then fewest changes, then the earliest end at plan pace. For each
stage the cheapest set that nothing rules out is drawn. When it fails it is made as large as it can be while it still fails,
and everything that gives up no more than that is ruled out, for giving up more never brings the crew in later. When it
passes, the stage is done. Trims are by whole minutes; where that makes too many sets, a search with few lengths of each
task goes on, and what it finds is given back minute by minute.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from dashboard.core.deferral.change import Change
from dashboard.core.deferral.items import SECONDS, Deferral
from dashboard.core.deferral.pieces import Pick, change_of, followers, pieces_of
from dashboard.core.deferral.sets import Cut, Sets

MOST_CHECKS = 250
MORE_CHECKS = 40  # for each further choice
FEW_LENGTHS = 2


@dataclass(frozen=True)
class Found:
    """A set that reaches the confidence.

    `least` False: a cheaper one may exist; `earliest` False: of equal cost an earlier end may exist; `by_minutes` False:
    other lengths of what is trimmed may cost less.
    """

    change: Change
    least: bool
    earliest: bool
    by_minutes: bool = True


class OutOfChecks(Exception):
    """The search has drawn as many sets as it may."""


class Search:
    """The search under one choice of the open alternatives; what was ruled out stays so for the next choice.

    Parameters
    ----------
    problem : Deferral
    choose : mapping
        The options taken.
    reaches : callable
        Whether a change reaches the confidence when drawn.
    late, hopeless : callable
        Quicker: whether a change fails by the limit alone, and whether it does whatever is handed over.
    end_of : callable
        Its end at plan pace, PET minutes.
    most_trims : int, optional
        At most so many lengths of a task; None: by whole minutes.
    """

    def __init__(
        self, problem: Deferral, choose: Mapping[str, str], reaches: Callable[[Change], bool],
        late: Callable[[Change], bool], hopeless: Callable[[Change], bool], end_of: Callable[[Change], float],
        most_trims: int | None = None,
    ) -> None:
        self.pieces = pieces_of(problem, most_trims)
        self.by_minutes = most_trims is None
        self.followers = followers(self.pieces)
        self.problem, self.choose = problem, choose
        self._reaches, self._late, self._hopeless, self._end_of = reaches, late, hopeless, end_of
        self.cuts: list[Cut] = []
        self.known: dict[tuple[object, ...], bool] = {}
        self.left = MOST_CHECKS
        self.passing: Pick | None = None
        self.whole_min = {i.id: (i.worked_s + i.length_s) / SECONDS for i in problem.items}
        self.classes = sorted({p.priority for p in self.pieces.values() if p.last})
        ranked = sorted(self.pieces.values(), key=lambda p: (-p.priority, p.steps[-1].loss, p.id))
        self.most_lengths = max((p.last - p.steps[-1].out for p in self.pieces.values()), default=0)
        self.movable = [p.id for p in self.pieces.values() if p.moves]
        self.cheapest_first = [p.id for p in ranked if p.last]

    # -- drawing

    def passes(self, pick: Pick) -> bool:
        """Whether a set reaches the confidence; each is drawn once."""
        return self._known(pick, self._reaches)

    def _known(self, pick: Pick, asked: Callable[[Change], bool]) -> bool:
        key = (asked, frozenset(pick.steps.items()), frozenset(pick.lanes.items()))
        if key not in self.known:
            if self.left <= 0:
                raise OutOfChecks
            self.left -= 1
            self.known[key] = asked(change_of(self.pieces, pick, self.choose))
        return self.known[key]

    # -- the stages

    def best(
        self, keep_one_of: Sequence[Iterable[str]] = (), no_worse_than: Mapping[int, int] | None = None
    ) -> Found | None:
        """The least-cost set, or None when nothing reaches the confidence (or nothing without losing more than a bound).

        Parameters
        ----------
        keep_one_of : sequence of iterables of str
            For each, at least one of the tasks must be done whole.
        no_worse_than : mapping, optional
            Losses by class that another set has reached.

        Raises
        ------
        OutOfChecks
            By whole minutes there are too many sets; `filled` then gives one that is not proven.
        """
        sets = Sets(self.pieces, keep_one_of, self.cuts)
        self.passing = None
        if keep_one_of and self.left:
            self.left += MORE_CHECKS
        settled: set[str] = set()
        for priority, loss in sets.losses.items():
            lower = [p.id for p in self.pieces.values() if p.priority > priority]
            self.passing = passing = self._stage(sets, loss, lower, settled)
            if passing is None:
                return None
            lost = self._loss(passing, priority)
            sets.at_most(loss, lost)
            if lost == 0:
                settled |= {p.id for p in self.pieces.values() if p.priority == priority and p.steps[-1].loss}
            if no_worse_than is not None and self._worse(passing, priority, no_worse_than):
                return None
        changes = sets.changes()
        passing = self._stage(sets, changes, (), settled)
        if passing is None:
            return None
        sets.at_most(changes, len(passing.steps) + len(passing.lanes))
        return self._given_back(self._earliest(sets, passing))

    def _stage(
        self, sets: Sets, objective: object, freely: Iterable[str], settled: Collection[str]
    ) -> Pick | None:
        """The cheapest set that passes. `settled` are tasks that are whole from here on."""
        while True:
            pick = sets.cheapest(objective, freely)
            if pick is None or self.passes(pick):
                return pick
            cut = self._ruled_out(pick, settled)
            self.cuts.append(cut)
            sets.add(cut)

    def _loss(self, pick: Pick, priority: int) -> int:
        return sum(
            self.pieces[t].steps[step].loss for t, step in pick.steps.items() if self.pieces[t].priority == priority
        )

    def _worse(self, pick: Pick, down_to: int, than: Mapping[int, int]) -> bool:
        """Whether a set loses more than a bound, in strict order of the classes settled so far."""
        for priority in sorted({*self.classes, *than}):
            lost, bound = self._loss(pick, priority), than.get(priority, 0)
            if priority > down_to or lost < bound:
                return False
            if lost > bound:
                return True
        return False

    # -- ruling out

    def _ruled_out(self, pick: Pick, settled: Collection[str]) -> Cut:
        """What a failing set rules out: it is made to give up more, cheap tasks first, as long as it still fails."""
        whatever_is_moved = bool(self.movable) and self._known(replace(pick, lanes={}), self._hopeless)
        late = not whatever_is_moved and self._known(pick, self._late)

        def fails(trial: Pick) -> bool:
            if whatever_is_moved:
                return self._known(replace(trial, lanes={}), self._hopeless)
            return self._known(trial, self._late) if late else not self.passes(trial)

        grown = pick
        order = [t for t in self.cheapest_first if t not in settled]
        at, chunk = 0, 1
        while at < len(order):
            trial = grown
            for task_id in order[at:at + chunk]:
                trial = self._raised(trial, task_id)
            if trial == grown or fails(trial):
                grown, at, chunk = trial, at + chunk, chunk * 2
            elif chunk > 1:
                chunk = 1
            else:
                grown, at = self._raised_in_part(grown, order[at], fails), at + 1
        beyond = {t: grown.step(t) for t, p in self.pieces.items() if grown.step(t) < p.last}
        if whatever_is_moved:
            return Cut(beyond, {})
        here = {t: grown.lanes.get(t) for t in self.movable if not self.pieces[t].steps[grown.step(t)].out}
        return Cut(beyond, here)

    def _raised(self, pick: Pick, task_id: str) -> Pick:
        """The set with a task given up as far as may be, and what goes with it."""
        goes = [task_id, *self.followers[task_id]]
        if self.pieces[task_id].steps[-1].out and not all(self.pieces[t].steps[-1].out for t in goes):
            return pick
        if not self.pieces[task_id].steps[-1].out:
            goes = [task_id]
        steps = {**pick.steps, **{t: self.pieces[t].last for t in goes}}
        lanes = {t: n for t, n in pick.lanes.items() if t not in goes or not self.pieces[t].steps[-1].out}
        return Pick(steps, lanes)

    def _raised_in_part(self, pick: Pick, task_id: str, fails: Callable[[Pick], bool]) -> Pick:
        """The set with a task trimmed as far as it still fails."""
        piece = self.pieces[task_id]
        failing, passing = pick.step(task_id), piece.last
        while passing - failing > 1:
            middle = (failing + passing) // 2
            trial = Pick({**pick.steps, task_id: middle}, pick.lanes)
            failing, passing = (middle, passing) if fails(trial) else (failing, middle)
        return Pick({**pick.steps, task_id: failing}, pick.lanes) if failing else pick

    # -- the last stage, and what is done when there are no checks left

    def _earliest(self, sets: Sets, passing: Pick) -> Found:
        """Of the sets of equal cost, the one with the earliest end."""
        ties, all_of_them = sets.all_left()
        changes = {id(p): change_of(self.pieces, p, self.choose) for p in ties}
        try:
            for pick in sorted(ties, key=lambda p: self._end_of(changes[id(p)])):
                if self.passes(pick):
                    return Found(changes[id(pick)], True, all_of_them)
        except OutOfChecks:
            all_of_them = False
        return Found(change_of(self.pieces, passing, self.choose), True, all_of_them)

    def _given_back(self, found: Found) -> Found:
        """With few lengths: each trim is shortened by whole minutes as far as it still passes."""
        if self.by_minutes:
            return found
        change = found.change
        for task_id, length in found.change.trim.items():
            for longer in range(int(length) + 1, int(self.whole_min[task_id])):
                trial = replace(change, trim={**change.trim, task_id: float(longer)})
                if not self._reaches(trial):
                    break
                change = trial
        return Found(change, found.least, found.earliest, not found.change.trim)

    def filled(self, keep_one_of: Sequence[Iterable[str]] = (), start: Change | None = None) -> Found | None:
        """Not proven: from a set that passes, take back what can be, highest priority first.

        Parameters
        ----------
        start : Change, optional
            One that passes; None: the last that the search has found, or all that may go.
        """
        self.left = 2 * len(self.pieces) + 2
        passing = self.passing if start is None else self._pick_of(start)
        if start is not None and not self.passes(passing or Pick({}, {})):
            return None
        if passing is None or not self._differs(passing, keep_one_of):
            passing = Pick({t: p.last for t, p in self.pieces.items() if p.last}, {})
            for tasks in keep_one_of:
                first = min((t for t in tasks if t in self.pieces), key=lambda t: self.pieces[t].steps[-1].loss)
                passing = self._taken_back(passing, first)
            if not self.passes(passing):
                return None
        for task_id in reversed(self.cheapest_first):
            trial = self._taken_back(passing, task_id)
            if trial != passing and self.passes(trial):
                passing = trial
        self.left = 0
        return self._given_back(Found(change_of(self.pieces, passing, self.choose), False, False, self.by_minutes))

    def _pick_of(self, change: Change) -> Pick:
        """The set that gives up at least what a change does."""
        steps = {t: self.pieces[t].last for t in (*change.defer, *change.break_off) if t in self.pieces}
        for task_id, minutes in change.trim.items():
            lengths = [step.length_min for step in self.pieces[task_id].steps]
            enough = (i for i, m in enumerate(lengths) if m is not None and m <= minutes)
            steps[task_id] = next(enough, self.pieces[task_id].last)
        return Pick(steps, dict(change.move))

    def _differs(self, pick: Pick, keep_one_of: Sequence[Iterable[str]]) -> bool:
        return all(any(pick.step(t) == 0 for t in tasks) for tasks in keep_one_of)

    def _taken_back(self, pick: Pick, task_id: str) -> Pick:
        """The set with a task done whole, and what it comes after."""
        back, queue = set(), [task_id]
        while queue:
            one = queue.pop()
            back.add(one)
            queue += [t for t in self.pieces[one].after if t not in back and pick.step(t)]
        return replace(pick, steps={t: step for t, step in pick.steps.items() if t not in back})
