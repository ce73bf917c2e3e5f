"""A simple search for a set that reaches the confidence, to compare the search of the core with.

1. The plan-pace optimum is solved against a tightened limit. The tightening is bisected until the optimum just reaches the
   confidence on the draws; the cheapest optimum that does is the start.
2. Single exchanges: one task is taken back or trimmed less, and at most one other task is given up, trimmed or handed over
   for it. The cheapest exchange that costs less and reaches the confidence is made, again and again.
3. Lower classes pay: one task is taken back, all that may go of the lower classes is given up, and as much of
   that as possible is taken back one by one.

It proves nothing about the draws.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import NamedTuple

from dashboard.core.deferral.alternatives import options_to_try, tasks_of
from dashboard.core.deferral.change import with_change
from dashboard.core.deferral.confidence import ConfidenceCheck
from dashboard.core.deferral.figures import Figures, figures_of
from dashboard.core.deferral.items import Deferral, deferral_of
from dashboard.core.deferral.levels import (
    Selection,
    change_of,
    levels_of,
    tasks_out,
    with_all_that_goes_along,
    with_task_back,
)
from dashboard.core.deferral.solve import solve
from dashboard.core.events.change import Change
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import DRAWS
from dashboard.core.schedule.pace import learn_pace
from dashboard.core.schedule.plan_pace import project
from dashboard.core.suits.budget import budgets

MOST_TIGHTENINGS = 12
LEAST_STEP_MIN = 0.5
MOST_CHECKS = 1000
STAGES = ("tightened", "and single exchanges", "and lower classes pay")
Cost = tuple[float, ...]


class Stage(NamedTuple):
    """What the simple search has found after one of its stages; `figures` None: nothing. Seconds of the processor so far."""

    figures: Figures | None
    seconds: float


def simple_search(record: Record, confidence: float, draws: int = DRAWS) -> dict[str, Stage]:
    """What is found after each stage of `STAGES`, each on top of the one before."""
    before = project(record)
    found: dict[str, list[Figures]] = {name: [] for name in STAGES}
    spent_s = dict.fromkeys(STAGES, 0.0)
    for choose in options_to_try(record, record, ()):
        began_s = time.process_time()
        for name, change in zip(STAGES, _Simple(record, choose, confidence, draws).stages(), strict=True):
            spent_s[name] += time.process_time() - began_s
            if change is not None:
                found[name].append(figures_of(record, before, change, confidence=confidence, draws=draws))
    return {
        name: Stage(min(found[name], key=lambda figures: rank_of(record, figures), default=None), spent_s[name])
        for name in STAGES
    }


def rank_of(record: Record, figures: Figures) -> Cost:
    """Value lost in each class, number of changes, end at plan pace: smaller is better."""
    classes = sorted({run.task.priority for run in record.runs.values()})
    lost = [round(figures.value_lost.get(c, 0.0), 4) for c in classes]
    return (*lost, figures.change.count(), round(figures.end_pet_min or 0.0, 3))


class _Simple:
    """The simple search with fixed options of the alternatives."""

    def __init__(self, record: Record, choose: dict[str, str], confidence: float, draws: int) -> None:
        self.record, self.choose, self.confidence, self.draws = record, choose, confidence, draws
        self.base = with_change(record, Change(choose=choose)) if choose else record
        self.before = project(self.base)
        self.limit = record.plan.sortie.limit_less_reserve_pet_min
        self.check = ConfidenceCheck(self.base, self.before, confidence, draws, learn_pace(record))
        problem = self._problem(0.0)
        self.tasks, self.sense = levels_of(problem), problem.sense
        self.classes = sorted({one.priority for one in self.tasks.values()})
        self.known: dict[tuple[object, ...], bool] = {}
        self.checks_left = MOST_CHECKS

    def stages(self) -> Iterator[Change | None]:
        """The best change after each stage; None while nothing is found."""
        found = self._tightened()
        yield self._change(found)
        found = self._exchanged(found)
        yield self._change(found and self._earlier_exchange(found))
        better = found and self._paid_by_lower_classes(found)
        while better is not None:
            found = self._exchanged(better)
            better = found and self._paid_by_lower_classes(found)
        yield self._change(found and self._earlier_exchange(found))

    def _exchanged(self, selection: Selection | None) -> Selection | None:
        """The set after all single exchanges that cost less."""
        while selection is not None and (cheaper := self._cheaper_exchange(selection)) is not None:
            selection = cheaper
        return selection

    # -- at plan pace

    def _problem(self, tighten_min: float) -> Deferral:
        stay = tasks_of(self.record.plan, self.choose)
        return deferral_of(
            self.base, self.before, budgets(self.base, self.before), self.limit, tighten_min=tighten_min, stay=stay
        )

    def _tightened(self) -> Selection | None:
        """The cheapest of the plan-pace optima that reach the confidence, trims rounded down to whole minutes."""
        found = []
        failing, passing, tighten = 0.0, None, 0.0
        for _ in range(MOST_TIGHTENINGS):
            solution = solve(self._problem(tighten))
            selection = None if solution is None else self._selection(solution.change)
            if selection is None or self._passes(selection):
                passing = tighten
                found += [] if selection is None else [selection]
            else:
                failing = tighten
            if passing == 0.0 or (passing is not None and passing - failing <= LEAST_STEP_MIN):
                break
            tighten = (failing + passing) / 2 if passing is not None else tighten + max(1.0, self._short_by(selection))
        everything = Selection({}, {})
        for task_id, task in self.tasks.items():
            everything = self._given_up(everything, task_id, task.last) if task.last else everything
        if not found and self._passes(everything):
            found = [everything]
        return min(found, key=self._cost, default=None)

    def _short_by(self, selection: Selection | None) -> float:
        assert selection is not None  # with no optimum left the tightening counts as passing
        change = change_of(self.tasks, selection, self.choose)
        figures = figures_of(self.base, self.before, change, confidence=self.confidence, draws=self.draws)
        return figures.short_by_min

    def _selection(self, change: Change) -> Selection:
        """The smallest selection that gives up at least as much as a change."""
        levels = {t: self.tasks[t].last for t in (*change.defer, *change.break_off)}
        for task_id, minutes in change.trim.items():
            lengths = [level.length_min for level in self.tasks[task_id].levels]
            levels[task_id] = next(i for i, m in enumerate(lengths) if m is not None and m <= minutes + 1e-6)
        return Selection(levels, dict(change.move))

    # -- on the draws

    def _change(self, selection: Selection | None) -> Change | None:
        return None if selection is None else change_of(self.tasks, selection, self.choose)

    def _cost(self, selection: Selection) -> Cost:
        lost = dict.fromkeys(self.classes, 0)
        for task_id, level in selection.levels.items():
            lost[self.tasks[task_id].priority] += self.tasks[task_id].levels[level].loss
        return (*lost.values(), len(selection.levels) + len(selection.lanes))

    def _end(self, selection: Selection) -> float:
        return project(with_change(self.base, change_of(self.tasks, selection, self.choose))).end_pet_min or 0.0

    def _passes(self, selection: Selection) -> bool:
        key = (frozenset(selection.levels.items()), frozenset(selection.lanes.items()))
        if key not in self.known:
            if self.checks_left == 0:
                return False
            self.checks_left -= 1
            self.known[key] = self.check.passes(change_of(self.tasks, selection, self.choose))
        return self.known[key]

    def _cheaper_exchange(self, selection: Selection) -> Selection | None:
        """The cheapest exchange that costs less and reaches the confidence."""
        return self._first_that_passes(selection, self._cost, self._cost(selection))

    def _earlier_exchange(self, selection: Selection) -> Selection:
        """The exchange of equal cost with the earliest end; the selection itself when none ends earlier."""
        cost, end = self._cost(selection), self._end(selection)

        def end_of_equal(other: Selection) -> Cost:
            return (self._end(other),) if self._cost(other) == cost else (end,)

        return self._first_that_passes(selection, end_of_equal, (end - 1e-3,)) or selection

    def _first_that_passes(
        self, selection: Selection, key: Callable[[Selection], Cost], below: Cost
    ) -> Selection | None:
        keyed = [(key(other), i, other) for i, other in enumerate(self._exchanges(selection))]
        trials = sorted(one for one in keyed if one[0] < below)
        return next((other for _, _, other in trials if self._passes(other)), None)

    def _exchanges(self, selection: Selection) -> Iterator[Selection]:
        """Every set that gives one task up less, one other task up more, or both."""
        less = [selection, *(self._taken_back(selection, t) for t in selection.levels)]
        less += [replace(selection, lanes={t: n for t, n in selection.lanes.items() if t != one}) for one in selection.lanes]
        for task_id, level in selection.levels.items():
            back = self._taken_back(selection, task_id)
            less += [replace(back, levels={**back.levels, task_id: i}) for i in range(1, level)]
        for one in less:
            yield one
            for task_id, task in self.tasks.items():
                if one.level(task_id) or self._cannot_be_done(one, task_id):
                    continue
                for level in range(1, task.last + 1):
                    yield self._given_up(one, task_id, level)
                if task_id not in one.lanes:
                    yield from (replace(one, lanes={**one.lanes, task_id: lane}) for lane in task.moves)

    def _paid_by_lower_classes(self, selection: Selection) -> Selection | None:
        """A cheaper set that takes one task back and gives up tasks of lower classes only; None when none is found."""
        cost = self._cost(selection)
        for task_id in sorted(selection.levels, key=self._dearest_first):
            trial = self._taken_back(selection, task_id)
            for other in self.tasks.values():
                if other.priority > self.tasks[task_id].priority and other.last:
                    trial = self._given_up(trial, other.id, other.last)
            if trial.level(task_id) or self._cost(trial) >= cost or not self._passes(trial):
                continue
            trial = self._filled(trial)
            if self._cost(trial) < cost:
                return trial
        return None

    def _filled(self, selection: Selection) -> Selection:
        """The set with each task taken back or trimmed less where that still reaches the confidence, dearest first."""
        for task_id in sorted(selection.levels, key=self._dearest_first):
            if not selection.level(task_id):
                continue
            back = self._taken_back(selection, task_id)
            trials = [back, *(replace(back, levels={**back.levels, task_id: i}) for i in range(1, selection.level(task_id)))]
            selection = next((trial for trial in trials if self._passes(trial)), selection)
        return selection

    def _dearest_first(self, task_id: str) -> tuple[int, int]:
        return self.tasks[task_id].priority, -self.tasks[task_id].levels[-1].loss

    def _cannot_be_done(self, selection: Selection, task_id: str) -> bool:
        out = tasks_out(self.tasks, selection)
        return any(rule.goes == task_id and rule.all_of <= out for rule in self.sense)

    def _taken_back(self, selection: Selection, task_id: str) -> Selection:
        """The set with one task whole, and with all the tasks whole that it comes after and that were out."""
        return with_task_back(self.tasks, self.sense, selection, task_id)

    def _given_up(self, selection: Selection, task_id: str, level: int) -> Selection:
        """The set with one task at a level, and with all that cannot be done without it; the same set where that must stay."""
        if not self.tasks[task_id].levels[level].out:
            return replace(selection, levels={**selection.levels, task_id: level})
        return with_all_that_goes_along(self.tasks, self.sense, selection, task_id)
