"""Search for the set of least cost that reaches the wanted confidence on the draws.

Cost has a strict order: value lost in class 1, then in class 2 and so on, then the number of changes. Among equals, what starts
latest goes first, so that the room can wait; then the end at plan pace counts. One stage minimises one of these:

1. Take the cheapest set that no cut rules out, and draw it.
2. If it reaches the confidence, its cost is the least of this stage. Go to the next stage.
3. Else enlarge it task by task while it still fails. Rule out every set that gives up no more than the enlarged one:
   giving up more never brings the crew in later. Go to 1.

Trims are in whole minutes. If that makes too many sets, the search is repeated with few lengths per task, and each trim of
its answer is then lengthened minute by minute. `python -m tests.bench search` compares this search with every set tried,
and with a simpler way.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from dashboard.core.deferral.hitting_sets import CandidateSets, Cut
from dashboard.core.deferral.items import SECONDS, Deferral
from dashboard.core.deferral.levels import (
    Selection,
    change_of,
    levels_of,
    with_all_that_goes_along,
    with_task_back,
)
from dashboard.core.events.change import Change

MOST_CHECKS = 250
MORE_CHECKS = 40  # for each further choice
FEW_LENGTHS = 2
ROUNDING = 100  # losses that differ by no more are equal, in units of 1 / LOSS_SCALE


@dataclass(frozen=True)
class Found:
    """A set that reaches the confidence.

    Parameters
    ----------
    least : bool
        No set costs less. False: that is not proven.
    earliest : bool
        No set of equal cost can wait longer, or can wait as long and ends earlier. False: that is not proven.
    by_minutes : bool
        Every whole minute of each trim was considered, or nothing is given up. False: other lengths may cost less.
    """

    change: Change
    least: bool
    earliest: bool
    by_minutes: bool = True


class OutOfChecks(Exception):
    """The search has drawn `MOST_CHECKS` sets and has proven nothing."""


class Search:
    """The search with fixed options of the open alternatives. Cuts are kept for the next choice.

    Parameters
    ----------
    problem : Deferral
    choose : mapping
        The options taken.
    reaches : callable
        Whether a change reaches the confidence on the draws.
    late : callable
        Whether a change fails by the limit alone; quicker than `reaches`.
    hopeless : callable
        Whether a change fails by the limit alone, whatever else is handed over.
    end_of : callable
        End of a change at plan pace, PET minutes.
    most_trims : int, optional
        The largest number of shorter lengths per task; None: every whole minute.
    starts : mapping, optional
        Task -> projected start. Of sets of equal cost, the one is taken that can wait longest. None: it does not count.
    """

    def __init__(
        self, problem: Deferral, choose: Mapping[str, str], reaches: Callable[[Change], bool],
        late: Callable[[Change], bool], hopeless: Callable[[Change], bool], end_of: Callable[[Change], float],
        most_trims: int | None = None, starts: Mapping[str, float] | None = None,
    ) -> None:
        self.tasks = levels_of(problem, most_trims)
        self.by_minutes = most_trims is None
        self.problem, self.choose = problem, choose
        self._reaches, self._late, self._hopeless, self._end_of = reaches, late, hopeless, end_of
        self.starts = starts or {}
        self.cuts: list[Cut] = []
        self.known: dict[tuple[object, ...], bool] = {}
        self.left = MOST_CHECKS
        self.passing: Selection | None = None
        self.whole_min = {i.id: (i.worked_s + i.length_s) / SECONDS for i in problem.items}
        self.classes = sorted({each.priority for each in self.tasks.values() if each.last})
        ranked = sorted(
            self.tasks.values(),
            key=lambda each: (-each.priority, each.levels[-1].loss, -self.starts.get(each.id, 0.0), each.id),
        )
        self.most_lengths = max((each.last - each.levels[-1].out for each in self.tasks.values()), default=0)
        self.movable = [each.id for each in self.tasks.values() if each.moves]
        self.cheapest_first = [each.id for each in ranked if each.last]

    # -- drawing

    def _passes(self, selection: Selection) -> bool:
        """Whether a set reaches the confidence. Each set is drawn once."""
        return self._known(selection, self._reaches)

    def _known(self, selection: Selection, asked: Callable[[Change], bool]) -> bool:
        key = (asked, frozenset(selection.levels.items()), frozenset(selection.lanes.items()))
        if key not in self.known:
            if self.left <= 0:
                raise OutOfChecks
            self.left -= 1
            self.known[key] = asked(change_of(self.tasks, selection, self.choose))
        return self.known[key]

    # -- the stages

    def best(
        self, keep_one_of: Sequence[Iterable[str]] = (), no_worse_than: Mapping[int, int] | None = None
    ) -> Found | None:
        """The set of least cost.

        Parameters
        ----------
        keep_one_of : sequence of iterables of str
            At least one task of each group must be done whole.
        no_worse_than : mapping, optional
            Priority class -> loss of another answer. A set that loses more is not wanted.

        Returns
        -------
        Found or None
            None: no set reaches the confidence, or none that loses no more than `no_worse_than`.

        Raises
        ------
        OutOfChecks
            Too many sets had to be drawn. `filled` then gives a set that is not proven.
        """
        sets = CandidateSets(self.tasks, keep_one_of, self.cuts, self.problem.sense)
        self.passing = None
        if keep_one_of and self.left:
            self.left += MORE_CHECKS
        settled: set[str] = set()
        for priority, loss in sets.losses.items():
            lower = [each.id for each in self.tasks.values() if each.priority > priority]
            too_dear = None if no_worse_than is None else partial(self._worse, down_to=priority, than=no_worse_than)
            self.passing = passing = self._stage(sets, loss, lower, settled, too_dear)
            if passing is None:
                return None
            lost = self._loss(passing, priority)
            sets.at_most(loss, lost)
            if lost == 0:
                settled |= {each.id for each in self.tasks.values() if each.priority == priority and each.levels[-1].loss}
        changes = sets.changes()
        passing = self._stage(sets, changes, (), settled)
        if passing is None:
            return None
        sets.at_most(changes, len(passing.levels) + len(passing.lanes))
        passing, latest = self._starting_latest(sets, passing, settled)
        found = self._earliest(sets, passing)
        return self._given_back(replace(found, earliest=found.earliest and latest))

    def _stage(
        self, sets: CandidateSets, objective: object, freely: Iterable[str], settled: Collection[str],
        too_dear: Callable[[Selection], bool] | None = None,
    ) -> Selection | None:
        """The cheapest set that reaches the confidence; None when there is none, or when even the cheapest is too dear.

        The tasks in `settled` stay whole from here on.
        """
        while True:
            selection = sets.cheapest(objective, freely)
            if selection is None or (too_dear is not None and too_dear(selection)):
                return None
            if self._passes(selection):
                return selection
            cut = self._ruled_out(selection, settled)
            self.cuts.append(cut)
            sets.add(cut)

    def _loss(self, selection: Selection, priority: int) -> int:
        return sum(
            self.tasks[t].levels[level].loss for t, level in selection.levels.items() if self.tasks[t].priority == priority
        )

    def _worse(self, selection: Selection, down_to: int, than: Mapping[int, int]) -> bool:
        """Whether a set loses more than a bound, compared class by class down to the class `down_to`."""
        for priority in sorted({*self.classes, *than}):
            lost, bound = self._loss(selection, priority), than.get(priority, 0)
            if priority > down_to or lost < bound - ROUNDING:
                return False
            if lost > bound + ROUNDING:
                return True
        return False

    # -- ruling out

    def _ruled_out(self, selection: Selection, settled: Collection[str]) -> Cut:
        """The cut that follows from a failing set, which is first enlarged while it still fails.

        Cheap tasks are given up first; the number of tasks per draw doubles as long as that fails.
        """
        whatever_is_moved = bool(self.movable) and self._known(replace(selection, lanes={}), self._hopeless)
        late = not whatever_is_moved and self._known(selection, self._late)

        def fails(trial: Selection) -> bool:
            if whatever_is_moved:
                return self._known(replace(trial, lanes={}), self._hopeless)
            return self._known(trial, self._late) if late else not self._passes(trial)

        grown = selection
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
        beyond = {t: grown.level(t) for t, each in self.tasks.items() if grown.level(t) < each.last}
        if whatever_is_moved:
            return Cut(beyond, {})
        here = {t: grown.lanes.get(t) for t in self.movable if not self.tasks[t].levels[grown.level(t)].out}
        return Cut(beyond, here)

    def _raised(self, selection: Selection, task_id: str) -> Selection:
        """The set with one more task given up as far as allowed, and with what goes along."""
        if self.tasks[task_id].levels[-1].out:
            return with_all_that_goes_along(self.tasks, self.problem.sense, selection, task_id)
        return Selection({**selection.levels, task_id: self.tasks[task_id].last}, selection.lanes)

    def _raised_in_part(self, selection: Selection, task_id: str, fails: Callable[[Selection], bool]) -> Selection:
        """The set with one task at the highest level at which the set still fails."""
        task = self.tasks[task_id]
        failing, passing = selection.level(task_id), task.last
        while passing - failing > 1:
            middle = (failing + passing) // 2
            trial = Selection({**selection.levels, task_id: middle}, selection.lanes)
            failing, passing = (middle, passing) if fails(trial) else (failing, middle)
        return Selection({**selection.levels, task_id: failing}, selection.lanes) if failing else selection

    # -- the last stages, and the answer without a proof

    def _starting_latest(
        self, sets: CandidateSets, passing: Selection, settled: Collection[str]
    ) -> tuple[Selection, bool]:
        """Of the sets of equal cost, the one that can wait longest, and whether that is proven."""
        if not self.starts or not passing.levels:
            return passing, True
        early = sets.earliness(self.starts)
        try:
            found = self._stage(sets, early, (), settled)
        except OutOfChecks:
            return passing, False
        if found is None:
            return passing, False
        sets.same_tasks(found)
        return found, True

    def _earliest(self, sets: CandidateSets, passing: Selection) -> Found:
        """The set with the earliest end at plan pace among the sets of equal cost."""
        ties, all_of_them = sets.all_left()
        changes = {id(each): change_of(self.tasks, each, self.choose) for each in ties}
        try:
            for selection in sorted(ties, key=lambda each: self._end_of(changes[id(each)])):
                if self._passes(selection):
                    return Found(changes[id(selection)], True, all_of_them)
        except OutOfChecks:
            all_of_them = False
        return Found(change_of(self.tasks, passing, self.choose), True, all_of_them)

    def _given_back(self, found: Found) -> Found:
        """After a search with few lengths: each trimmed task is made as long as still reaches the confidence."""
        if self.by_minutes:
            return found
        change = found.change
        for task_id, length in found.change.trim.items():
            for longer in range(int(length) + 1, int(self.whole_min[task_id])):
                trial = change.but(trim={**change.trim, task_id: float(longer)})
                if not self._reaches(trial):
                    break
                change = trial
        return Found(change, found.least, found.earliest, not change.given_up())

    def filled(self, keep_one_of: Sequence[Iterable[str]] = (), start: Change | None = None) -> Found | None:
        """A set that reaches the confidence but is not proven: tasks are taken back one by one, highest priority first.

        Parameters
        ----------
        keep_one_of : sequence of iterables of str
            At least one task of each group must be done whole.
        start : Change, optional
            A change that reaches the confidence. None: the last set that the search has found, else all that may go.

        Returns
        -------
        Found or None
            None when `start` does not reach the confidence, and when giving up all that may go does not either.
        """
        self.left = 2 * len(self.tasks) + 2
        passing = self.passing if start is None else self._selection_of(start)
        if start is not None and not self._passes(passing or Selection({}, {})):
            return None
        if passing is None or not self._differs(passing, keep_one_of):
            passing = self._everything()
            for tasks in keep_one_of:
                first = min((t for t in tasks if t in self.tasks), key=lambda t: self.tasks[t].levels[-1].loss)
                passing = self._taken_back(passing, first)
            if not self._passes(passing):
                return None
        for task_id in reversed(self.cheapest_first):
            trial = self._taken_back(passing, task_id)
            if trial != passing and self._passes(trial):
                passing = trial
        self.left = 0
        return self._given_back(Found(change_of(self.tasks, passing, self.choose), False, False, self.by_minutes))

    def everything(self) -> Change:
        """All that may be given up, as a change."""
        return change_of(self.tasks, self._everything(), self.choose)

    def _everything(self) -> Selection:
        """All that may be given up. A task stays if one that may not be given up cannot be done without it."""
        selection = Selection({}, {})
        for task_id in self.cheapest_first:
            selection = self._raised(selection, task_id)
        return selection

    def _selection_of(self, change: Change) -> Selection:
        """The smallest set that gives up at least as much as a change."""
        levels = {t: self.tasks[t].last for t in (*change.defer, *change.break_off) if t in self.tasks}
        for task_id, minutes in change.trim.items():
            lengths = [level.length_min for level in self.tasks[task_id].levels]
            enough = (i for i, m in enumerate(lengths) if m is not None and m <= minutes)
            levels[task_id] = next(enough, self.tasks[task_id].last)
        return Selection(levels, dict(change.move))

    def _differs(self, selection: Selection, keep_one_of: Sequence[Iterable[str]]) -> bool:
        return all(any(selection.level(t) == 0 for t in tasks) for tasks in keep_one_of)

    def _taken_back(self, selection: Selection, task_id: str) -> Selection:
        """The set with one task done whole, and with all the tasks done whole that it needs."""
        return with_task_back(self.tasks, self.problem.sense, selection, task_id)
