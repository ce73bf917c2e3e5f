"""Simulates the course of a sortie: the work of each lane, and the troubles.

The pace of a lane is log-normal: its median is `pace`, the standard deviation of its logarithm is `spread`, and the logarithms
of two lanes have the correlation `correlation`. The log pace of a joint task is the mean over its lanes. The length of a task
is its pace times a draw from the beta-PERT of its briefed duration, or from a log-normal with `UNBRIEFED_SPREAD` if only one
value is briefed. The random numbers are independent of those of the projection.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from dashboard.core.plan.model import Plan, Task
from dashboard.core.record.record import briefed_order
from dashboard.core.schedule.durations import quantile
from dashboard.core.schedule.windows import windows_by_kind
from replay.conditions import Conditions
from replay.simulated_suits import Rng, SimulatedSuits

UNBRIEFED_SPREAD = 0.15
LONGEST_RUN_MIN = 23 * 60.0
MOST_STEPS = 20_000



@dataclass
class Row:
    """One entry of the log: when it happened, when it was received (both PET minutes), and its fields."""

    at: float
    kind: str
    more: dict[str, Any] = field(default_factory=dict)
    id: str = ""
    received: float = 0.0


@dataclass
class _Work:
    """The simulated work of one task: minutes left, and since when it is in work (PET minutes; None: not in work)."""

    task: Task
    left: float
    in_work_from: float | None = None
    begun: bool = False
    over_at: float | None = None
    out: bool = False


class SimulatedSortie:
    """Steps from one moment to the next. At each moment every task that can start does, in the order of the plan."""

    def __init__(self, plan: Plan, conditions: Conditions, rng: Rng) -> None:
        self.plan, self.rng = plan, rng
        self.now = 0.0
        self.rows = [
            Row(0.0, "clock"),
            Row(0.0, "note", {"text": "A simulated run: none of this happened."}),
        ]
        self.pace = _paces(plan, conditions, rng)
        default = {
            t for a in plan.alternatives for name, ts in a.options.items() if name != a.default for t in ts
        }
        taken = {t for a in plan.alternatives for t in a.options[a.default]}
        self.todo = [t for t in briefed_order(plan) if not self._task(t).get_ahead]
        self.work = {t: self._drawn(self._task(t)) for t in self.todo}
        self.others = default - taken
        for task_id in self.others & set(self.todo):
            self.work[task_id].out = True
        self.open = {a.id: a for a in plan.alternatives}
        self.windows = windows_by_kind(plan.windows)
        self.suits = SimulatedSuits(plan, rng)
        self.checks = {(c.id, lane): float(rng.uniform(0, 2)) for c in plan.checks for lane in c.lanes}
        self.troubles = self._troubles(conditions)
        self.resume_at: dict[str, float] = {}
        self.blocked: dict[str, list[str]] = {}

    def _task(self, task_id: str) -> Task:
        return self.plan.all_tasks()[task_id]

    def _drawn(self, task: Task) -> _Work:
        if task.duration.exact:
            return _Work(task, max(0.25, task.likely_min))
        if task.duration.high > task.duration.low:
            own = float(quantile(task.duration, np.array([self.rng.random()]))[0])
        else:
            own = task.likely_min * float(np.exp(UNBRIEFED_SPREAD * self.rng.standard_normal()))
        pace = float(np.exp(np.mean([self.pace[lane] for lane in task.lanes])))
        return _Work(task, max(0.25, own * pace))

    def _troubles(self, conditions: Conditions) -> list[tuple[float, str]]:
        end = max((t.start + t.likely_min for t in self.plan.tasks if t.start is not None), default=60.0)
        found = []
        for name in ("contingency", "hold", "given-up"):
            for _ in range(self.rng.poisson(conditions.troubles.get(name, 0.0))):
                found.append((float(self.rng.uniform(0.1, 0.85)) * end * conditions.pace, name))
        return sorted(found)

    def run(self) -> list[Row]:
        """Simulate until the crew is in, and return the log.

        It also ends when nothing can go on, after `LONGEST_RUN_MIN`, or after `MOST_STEPS` steps.

        Returns
        -------
        list of Row
            In order of time, from the clock event to the event ``end``.
        """
        for _ in range(MOST_STEPS):
            self._start_what_can()
            if self._crew_is_in():
                break
            then = self._next_moment()
            if then is None or then > LONGEST_RUN_MIN:
                break
            self._go_to(then)
        self.rows.append(Row(self.now + 0.5, "end"))
        return self.rows

    def _crew_is_in(self) -> bool:
        left = [w for w in self.work.values() if w.over_at is None and not w.out]
        crew = set(self.plan.crew_lane_ids())
        return not any(crew & set(w.task.lanes) for w in left) and not any(w.begun for w in left)

    def _busy(self) -> set[str]:
        return {lane for w in self.work.values() if w.in_work_from is not None for lane in w.task.lanes}

    def _start_what_can(self) -> None:
        taken = self._busy()
        for task_id in list(self.todo):
            work = self.work[task_id]
            if work.over_at is not None or work.out or work.in_work_from is not None:
                continue
            lanes = set(work.task.lanes)
            if not lanes & taken and self._may_start(task_id):
                if not work.begun and self._chose_other(task_id):
                    return self._start_what_can()
                self._begin(task_id)
            taken |= lanes  # later tasks of a lane wait for earlier ones

    def _may_start(self, task_id: str) -> bool:
        return self._free_from(task_id) <= self.now + 1e-9

    def _free_from(self, task_id: str) -> float:
        """When a task may start, PET minutes, by other tasks, holds and windows; infinite while that is unknown."""
        work = self.work[task_id]
        at = self.resume_at.get(task_id, 0.0)
        waits = [(other, 0.0) for other in self.blocked.get(task_id, [])]
        if not work.begun:
            waits += [(other, 0.0) for other in work.task.after]
            waits += [(f.task, f.lag) for f in work.task.follows]
            at = max(at, work.task.not_before or 0.0)
        for other, lag in waits:
            first = self.work.get(other)
            if first is None or first.out:
                continue
            if first.over_at is None:
                return float("inf")
            at = max(at, first.over_at + lag + (1 / 60 if lag else 0.0))
        return at if work.begun else self._in_window(work.task, max(at, self.now))

    def _in_window(self, task: Task, at: float) -> float:
        """The earliest start from `at` on in windows that hold the likely length. Kinds without such a window are ignored."""
        start = at
        for kind in task.needs:
            fits = [w for w in self.windows.get(kind, []) if max(start, w.from_) + task.likely_min <= w.to]
            start = max(start, fits[0].from_) if fits else start
        return start

    def _begin(self, task_id: str) -> None:
        work = self.work[task_id]
        self.rows.append(Row(self.now, "resume" if work.begun else "start", {"task": task_id}))
        work.in_work_from, work.begun = self.now, True
        self.resume_at.pop(task_id, None)

    def _chose_other(self, task_id: str) -> bool:
        """Choose an option when the first task of an open alternative is due. True if it is not the default."""
        for name, alternative in list(self.open.items()):
            if task_id not in alternative.options[alternative.default]:
                continue
            options = list(alternative.options)
            option = (
                alternative.default
                if self.rng.random() < 0.7
                else options[int(self.rng.integers(len(options)))]
            )
            del self.open[name]
            self.rows.append(Row(self.now, "choose", {"alternative": name, "option": option}))
            taken = set(alternative.options[option])
            for tasks in alternative.options.values():
                for other in set(tasks) & set(self.work):
                    self.work[other].out = other not in taken
            self._goes_with()
            return option != alternative.default
        return False

    def _goes_with(self) -> None:
        """Take out the tasks that come after a task that is out."""
        grew = True
        while grew:
            more = [
                w
                for w in self.work.values()
                if not w.out
                and not w.begun
                and any(n not in self.work or self.work[n].out for n in w.task.after)
            ]
            for work in more:
                work.out = True
            grew = bool(more)

    # -- the next moment -------------------------------------------------------------------------------------------

    def _next_moment(self) -> float | None:
        times = [w.in_work_from + w.left for w in self.work.values() if w.in_work_from is not None]
        taken = self._busy()
        for task_id in self.todo:
            work = self.work[task_id]
            if work.over_at is None and not work.out and work.in_work_from is None:
                if not set(work.task.lanes) & taken:
                    times.append(self._free_from(task_id))
                taken |= set(work.task.lanes)
        times = [t for t in times if np.isfinite(t)]
        if not times:
            return None
        times += [*self.checks.values(), *([self.suits.due] if self.suits.worn else [])]
        if self.troubles:
            times.append(max(self.now, self.troubles[0][0]))
        return max(self.now, min(times))

    def _go_to(self, then: float) -> None:
        loads = {lane: w.task for w in self.work.values() if w.in_work_from is not None for lane in w.task.lanes}
        self.suits.use(loads, self.now, then)
        self.now = then
        for task_id, work in self.work.items():
            if work.in_work_from is not None and work.in_work_from + work.left <= then + 1e-9:
                work.in_work_from, work.over_at = None, then
                self.rows.append(Row(then, "done", {"task": task_id}))
        for (check, lane), due in self.checks.items():
            if due <= then + 1e-9:
                self.rows.append(Row(then, "check", {"check": check, "lane": lane}))
                every = next(c.every for c in self.plan.checks if c.id == check)
                self.checks[check, lane] = then + every * float(self.rng.uniform(0.9, 1.05))
        if self.suits.worn and self.suits.due <= then + 1e-9:
            self.rows += [Row(then, "reading", reading) for reading in self.suits.read(then)]
        while self.troubles and self.troubles[0][0] <= then + 1e-9:
            self._trouble(self.troubles.pop(0)[1])

    # -- troubles --------------------------------------------------------------------------------------------------

    def _trouble(self, name: str) -> None:
        {"contingency": self._contingency, "hold": self._hold, "given-up": self._give_up}[name]()

    def _in_work(self) -> list[str]:
        return [t for t, w in self.work.items() if w.in_work_from is not None and w.in_work_from + w.left > self.now + 1e-6]

    def _contingency(self) -> None:
        """Insert a contingency whose `hold` list has a task in work, if there is one. Other work in its lanes is held."""
        fresh = [
            c for c in self.plan.contingencies if all(t.id not in self.work for t in c.tasks) and c.tasks
        ]
        fits = [c for c in fresh if set(c.hold) & set(self._in_work())]
        if not fits:
            return
        contingency = fits[int(self.rng.integers(len(fits)))]
        needed = {lane for task in contingency.tasks for lane in task.lanes}
        for task_id in self._in_work():
            if needed & set(self.work[task_id].task.lanes) and task_id not in contingency.hold:
                self._stop(task_id, contingency.id)
        self.rows.append(Row(self.now, "insert", {"contingency": contingency.id}))
        steps = [task.id for task in contingency.tasks]
        self.work.update({task.id: self._drawn(task) for task in contingency.tasks})
        for held in contingency.hold:
            if held in self.work and self.work[held].over_at is None:
                self.blocked.setdefault(held, []).extend(steps)
                if self.work[held].in_work_from is not None:
                    self._pause(held)
        self.todo[:0] = steps

    def _hold(self) -> None:
        able = self._in_work()
        if able:
            task_id = able[int(self.rng.integers(len(able)))]
            self._stop(task_id, "simulated trouble")
            self.resume_at[task_id] = self.now + float(self.rng.uniform(3, 15))

    def _stop(self, task_id: str, reason: str) -> None:
        self.rows.append(Row(self.now, "hold", {"task": task_id, "reason": reason}))
        self._pause(task_id)

    def _pause(self, task_id: str) -> None:
        work = self.work[task_id]
        assert work.in_work_from is not None
        work.left, work.in_work_from = work.left - (self.now - work.in_work_from), None

    def _give_up(self) -> None:
        """Defer or trim the last task of the lowest priority that is not started."""
        able = [
            w.task
            for t in self.todo
            if not (w := self.work[t]).begun
            and not w.out
            and w.over_at is None
            and not w.task.required
            and w.task.id in {task.id for task in self.plan.tasks}
            and w.task.id not in self.others
        ]
        if not able:
            return
        lowest = max(task.priority for task in able)
        task = [one for one in able if one.priority == lowest][-1]
        if task.shortest is not None and task.shortest < task.likely_min:
            self.rows.append(Row(self.now, "trim", {"task": task.id, "duration": task.shortest}))
            self.work[task.id].left *= task.shortest / task.likely_min
            return
        self.rows.append(Row(self.now, "defer", {"tasks": [task.id]}))
        self.work[task.id].out = True
        self._goes_with()


def _paces(plan: Plan, conditions: Conditions, rng: Rng) -> dict[str, float]:
    """Logarithm of the pace of each lane."""
    shared = rng.standard_normal()
    one, own = np.sqrt(conditions.correlation), np.sqrt(1 - conditions.correlation)
    return {
        lane.id: float(
            np.log(conditions.pace) + conditions.spread * (one * shared + own * rng.standard_normal())
        )
        for lane in plan.lanes
    }
