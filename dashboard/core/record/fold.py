"""The fold: the events that stand, in order, become a `Record`.

`reconcile(plan, events, now)` is pure. It applies the events through the life-cycle table; whatever does not fit is
applied as the room meant it and listed as a discrepancy.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Any

from dashboard.core.base.findings import Discrepancy
from dashboard.core.base.minutes import length
from dashboard.core.base.times import minutes_between
from dashboard.core.events.far_off import WORK_KINDS
from dashboard.core.plan.model import Plan
from dashboard.core.record.counted import standing_events
from dashboard.core.record.lifecycle import BROKEN_OFF, DEFERRED, DONE, IN_WORK, NOT_STARTED, ON_HOLD, TABLE
from dashboard.core.record.record import Reading, Record, TaskRun, briefed_order, out_of_plan, run_of

LATE_START_MIN = 30.0


def reconcile(plan: Plan, events: Iterable[Any], now: datetime) -> Record:
    """Fold the events that stand at `now` into a `Record`.

    Parameters
    ----------
    plan : Plan
        As briefed.
    events : iterable of event models
        In any order; the result does not depend on it.
    now : datetime
        Aware. Events after it do not count yet.
    """
    standing = standing_events(plan, events, now)
    clocks = [e for e in standing.events if e.kind == "clock"]
    pet_zero = clocks[-1].at if clocks else plan.sortie.start
    record = Record(
        plan=plan,
        standing=standing,
        pet_zero=pet_zero,
        pet_zero_from="clock event" if clocks else "planned start",
        pet_min=minutes_between(pet_zero, now),
        pet_zero_doubt=None if clocks else zero_doubt(plan, standing.events, minutes_between(pet_zero, now)),
        runs={task.id: run_of(task, "briefed") for task in plan.tasks},
        order=briefed_order(plan),
        discrepancies=list(standing.discrepancies),
    )
    fold = _Fold(record)
    for clock in clocks[1:]:
        fold.complain(clock, "one clock event", "another one; the last sets PET zero")
    # A task brought in by `add` is known to every event, whatever their order.
    for event in standing.events:
        if event.kind == "add":
            fold.add(event)
    for event in standing.events:
        handler = _HANDLERS.get(event.kind)
        if handler is not None:
            handler(fold, event)
    if record.end_pet_min is not None:
        record.pet_min = min(record.pet_min, record.end_pet_min)
    record.out_because = out_of_plan(record)
    return record


def zero_doubt(plan: Plan, events: Iterable[Any], pet_min: float) -> str | None:
    """Why the planned start cannot be PET zero, in words; None: nothing in the log speaks against it.

    The planned start stands for PET zero until a `clock` event says better. It is not believed when it is past and no
    work is reported, when work is reported before it, or when the first start of the log comes more than
    `LATE_START_MIN` after the brief has that task.

    Parameters
    ----------
    plan : Plan
    events : iterable of event models
        Those that stand, without a `clock`.
    pet_min : float
        Now, PET minutes from the planned start.
    """
    work = sorted((e for e in events if e.kind in WORK_KINDS), key=lambda e: e.at)
    if not work:
        return "the sortie has not begun by the log" if pet_min > 0 else None
    if work[0].at < plan.sortie.start:
        return "work is logged before the planned start"
    first = next((e for e in work if e.kind == "start"), None)
    briefed = {task.id: task.start for task in plan.tasks}
    planned = None if first is None else briefed.get(first.task)
    if first is not None and planned is not None:
        late_min = minutes_between(plan.sortie.start, first.at) - planned
        if late_min > LATE_START_MIN:
            return f"the first start of the log, {first.task}, is {length(late_min)} after its brief"
    return None


class _Fold:
    """Applies events to a record, one handler a kind (table `_HANDLERS`)."""

    def __init__(self, record: Record) -> None:
        self.record = record
        self.in_work: dict[str, set[str]] = {}  # lane -> tasks in work in it

    # -- small helpers -------------------------------------------------------------------------------------------

    def pet(self, event: Any) -> float:
        return minutes_between(self.record.pet_zero, event.at)

    def complain(self, event: Any, expected: str, found: str) -> None:
        self.record.discrepancies.append(
            Discrepancy(event=event.id, at=event.at, pet_min=self.pet(event), expected=expected, found=found)
        )

    def run(self, task_id: str) -> TaskRun | None:
        run = self.record.runs.get(task_id)
        if run is None and (task := self.record.plan.all_tasks().get(task_id)) is not None:
            run = self.record.runs[task_id] = run_of(task, "contingency")
            self._put_ahead([task_id], held=())
        return run

    def step(self, event: Any, task_id: str, action: str) -> TaskRun | None:
        """Take a task through the life-cycle table. None: the action was refused, nothing changed."""
        run = self.run(task_id)
        if run is None:
            return None
        before = run.state
        step = TABLE[before, action]
        if step.expected is not None:
            self.complain(event, step.expected, f"{action.replace('_', ' ')} of {task_id}, which is {before}")
        run.events.append(event.id)
        if step.to == before:
            return None
        pet = self.pet(event)
        if before == IN_WORK:
            self._stop_working(run, pet)
        run.state = step.to
        if step.to == IN_WORK:
            self._begin_working(run, pet, opened_again=before in (DONE, BROKEN_OFF))
        elif step.to in (DONE, BROKEN_OFF):
            run.finish_pet_min = pet
            run.held_by = run.hold_reason = None
        return run

    def _begin_working(self, run: TaskRun, pet: float, opened_again: bool) -> None:
        if run.start_pet_min is None and not opened_again:
            run.start_pet_min = pet
        run.finish_pet_min = None
        run.working_since_pet_min = pet
        run.held_by = run.hold_reason = None
        for lane in run.lanes:
            self.in_work.setdefault(lane, set()).add(run.task.id)

    def _stop_working(self, run: TaskRun, pet: float) -> None:
        run.worked_before_min = run.worked_min(pet)
        if run.working_since_pet_min is not None:
            run.spans.append((run.working_since_pet_min, pet))
        run.working_since_pet_min = None
        for lane in run.lanes:
            self.in_work.get(lane, set()).discard(run.task.id)

    def _put_ahead(self, task_ids: list[str], held: Iterable[str]) -> None:
        """Put tasks into the order ahead of everything that remains, and of the tasks in `held`."""
        order, runs, held = self.record.order, self.record.runs, set(held)
        order[:] = [t for t in order if t not in task_ids]
        place = next(
            (i for i, t in enumerate(order) if t in held or runs[t].state in (NOT_STARTED, ON_HOLD)), len(order)
        )
        order[place:place] = task_ids

    # -- work ----------------------------------------------------------------------------------------------------

    def start(self, event: Any) -> None:
        run = self.run(event.task)
        if run is None:
            return
        if event.lanes is not None and run.state == IN_WORK and not set(event.lanes) <= set(run.lanes):
            run.lanes = tuple(dict.fromkeys((*run.lanes, *event.lanes)))
            run.events.append(event.id)
            for lane in event.lanes:
                self._complain_if_busy(event, run, lane)
                self.in_work.setdefault(lane, set()).add(run.task.id)
            return
        if event.lanes is not None and run.state != IN_WORK:
            run.lanes = event.lanes
        if run.state != IN_WORK:
            self._complain_before_its_turn(event, run)
        self.step(event, event.task, "start")

    def _complain_before_its_turn(self, event: Any, run: TaskRun) -> None:
        pet = self.pet(event)
        for needed in run.task.after:
            other = self.run(needed)
            if other is not None and other.state != DONE:
                self.complain(event, f"{needed} done before {run.task.id} starts", f"{needed} {other.state}")
        for follow in run.task.follows:
            other = self.record.runs.get(follow.task)
            if other is None or other.state in (DEFERRED, BROKEN_OFF):
                continue
            if other.state == NOT_STARTED and follow.task in out_of_plan(self.record):
                continue
            if other.state != DONE or other.finish_pet_min is None:
                self.complain(event, f"{follow.task} done before {run.task.id} starts", f"{follow.task} {other.state}")
            elif pet < other.finish_pet_min + follow.lag - 1e-6:
                self.complain(
                    event,
                    f"{follow.lag:g} min between the end of {follow.task} and the start of {run.task.id}",
                    f"{pet - other.finish_pet_min:.1f} min",
                )
        for lane in run.lanes:
            self._complain_if_busy(event, run, lane)
            if lane in self.record.held_lanes and run.origin != "contingency":
                self.complain(event, f"lane {lane} resumed before work starts in it", f"lane {lane} on hold")

    def _complain_if_busy(self, event: Any, run: TaskRun, lane: str) -> None:
        for other in sorted(self.in_work.get(lane, set()) - {run.task.id}):
            self.complain(event, f"lane {lane} free to start {run.task.id}", f"{other} still in work there")

    def done(self, event: Any) -> None:
        self.step(event, event.task, "done")

    def break_off(self, event: Any) -> None:
        run = self.step(event, event.task, "break_off")
        if run is None:
            return
        if run.task.required:
            self.complain(event, f"{run.task.id} not to be broken off (required)", "break off; applied")
        if run.task.closeout is None:
            self.complain(
                event, f"a close-out time for {run.task.id} in the plan", "none; taken as nothing to leave safe"
            )

    def hold(self, event: Any) -> None:
        if event.task is not None:
            self._hold_task(event, event.task, "task", event.reason)
            return
        record = self.record
        lanes = record.plan.lane_ids() if event.all else (event.lane,)
        cause = "all" if event.all else f"lane {event.lane}"
        for lane in lanes:
            record.held_lanes[lane] = event.reason
            record.held_since[lane] = self.pet(event)
        in_work = sorted({t for lane in lanes for t in self.in_work.get(lane, set())}, key=record.order.index)
        for task_id in in_work:
            self._hold_task(event, task_id, cause, event.reason)

    def _hold_task(self, event: Any, task_id: str, cause: str, reason: str | None) -> None:
        run = self.step(event, task_id, "hold")
        if run is not None:
            run.held_by, run.hold_reason, run.held_since_pet_min = cause, reason, self.pet(event)

    def resume(self, event: Any) -> None:
        if event.task is not None:
            run = self.run(event.task)
            if run is not None and run.state == ON_HOLD:
                for lane in run.lanes:
                    self._complain_if_busy(event, run, lane)
                    self.record.held_lanes.pop(lane, None)
            self.step(event, event.task, "resume")
            return
        record = self.record
        lanes = set(record.plan.lane_ids()) if event.all else {event.lane}
        on_hold = [r for t in record.order if (r := record.runs[t]).state == ON_HOLD and lanes & set(r.lanes)]
        causes = {f"lane {lane}" for lane in lanes} | {"all"}
        was_held = any(lane in record.held_lanes for lane in lanes)
        resumed = [run for run in on_hold if run.held_by in causes] if was_held else on_hold
        for lane in lanes:
            record.held_lanes.pop(lane, None)
        if not was_held and not resumed:
            self.complain(event, "something on hold to resume", "nothing on hold")
        for run in resumed:
            if not any(lane in record.held_lanes for lane in run.lanes):
                self.step(event, run.task.id, "resume")

    def estimate(self, event: Any) -> None:
        run = self.run(event.task)
        if run is None:
            return
        if run.state not in (IN_WORK, ON_HOLD):
            self.complain(event, f"{event.task} in work or on hold", f"{event.task} {run.state}; estimate set aside")
            return
        run.worked_at_estimate_min = run.worked_min(self.pet(event))
        run.whole_by_estimate_min = run.worked_at_estimate_min + event.remaining
        run.events.append(event.id)

    # -- decisions -----------------------------------------------------------------------------------------------

    def defer(self, event: Any) -> None:
        self._defer(event, event.tasks)

    def _defer(self, event: Any, task_ids: Iterable[str]) -> None:
        for task_id in task_ids:
            run = self.step(event, task_id, "defer")
            if run is not None:
                run.kept = False
                if run.task.required:
                    self.complain(event, f"{task_id} not to be deferred (required)", "defer; applied")

    def reinstate(self, event: Any) -> None:
        out = out_of_plan(self.record)
        for task_id in event.tasks:
            run = self.run(task_id)
            if run is None:
                continue
            if run.state == NOT_STARTED and task_id in out:
                self.complain(event, f"what {task_id} comes after in the plan of record too", out[task_id].why)
                run.kept = True
                run.events.append(event.id)
            elif self.step(event, task_id, "reinstate") is not None:
                self._put_behind_contingencies(run)

    def _put_behind_contingencies(self, run: TaskRun) -> None:
        """What comes back is part of the rest of its lanes: what remains of an inserted contingency goes first."""
        order, runs = self.record.order, self.record.runs
        ahead = [
            i for i, t in enumerate(order)
            if runs[t].origin == "contingency" and runs[t].state in (NOT_STARTED, IN_WORK, ON_HOLD)
            and set(runs[t].lanes) & set(run.lanes)
        ]
        place = order.index(run.task.id)
        if run.origin != "contingency" and ahead and ahead[-1] > place:
            order.insert(ahead[-1], order.pop(place))

    def trim(self, event: Any) -> None:
        self._trim(event, event.task, event.duration)

    def _trim(self, event: Any, task_id: str, duration_min: float) -> None:
        run = self.run(task_id)
        if run is None:
            return
        if run.state in (DONE, BROKEN_OFF):
            self.complain(event, f"{task_id} not over yet", f"{task_id} {run.state}; the trim was set aside")
            return
        if run.task.required:
            self.complain(event, f"{task_id} not to be trimmed (required)", f"trim to {duration_min:g} min; applied")
        elif run.task.shortest is None:
            if duration_min < run.task.likely_min:
                self.complain(
                    event, f"{task_id} not to be trimmed (no shortest length in the plan)",
                    f"trim to {duration_min:g} min; applied",
                )
        elif duration_min < run.task.shortest:
            self.complain(
                event, f"at least {run.task.shortest:g} min for {task_id}", f"trim to {duration_min:g} min; applied"
            )
        if run.whole_by_estimate_min is not None and run.whole_by_estimate_min > duration_min:
            run.whole_by_estimate_min = None
        run.planned_min, run.trimmed = duration_min, duration_min != run.task.likely_min
        run.events.append(event.id)

    def decision(self, event: Any) -> None:
        self._defer(event, event.defer)
        for task_id, duration_min in event.trim.items():
            self._trim(event, task_id, duration_min)

    def insert(self, event: Any) -> None:
        record = self.record
        if event.contingency in record.inserted:
            self.complain(event, f"contingency {event.contingency} not yet inserted", "it was; nothing changed")
            return
        record.inserted.append(event.contingency)
        contingency = next(c for c in record.plan.contingencies if c.id == event.contingency)
        task_ids = [task.id for task in contingency.tasks]
        for task in contingency.tasks:
            if task.id not in record.runs:
                record.runs[task.id] = run_of(task, "contingency")
            record.runs[task.id].events.append(event.id)
        self._put_ahead(
            [t for t in task_ids if record.runs[t].state == NOT_STARTED], held=contingency.hold
        )
        for held in contingency.hold:
            run = self.run(held)
            if run is None or run.state in (DONE, BROKEN_OFF, DEFERRED):
                continue
            record.blocked_by.setdefault(held, []).extend(task_ids)
            if run.state == IN_WORK:
                self._hold_task(event, held, f"contingency {contingency.id}", contingency.trigger or contingency.id)
            else:
                run.events.append(event.id)

    def choose(self, event: Any) -> None:
        record = self.record
        alternative = next(a for a in record.plan.alternatives if a.id == event.alternative)
        taken = set(alternative.options[event.option])
        for name, task_ids in alternative.options.items():
            for task_id in task_ids:
                if name != event.option and task_id not in taken and record.runs[task_id].state != NOT_STARTED:
                    self.complain(
                        event, f"nothing of option '{name}' begun", f"{task_id} {record.runs[task_id].state}"
                    )
        record.chosen[event.alternative] = event.option

    def add(self, event: Any) -> None:
        record, task = self.record, event.task
        if task.id in record.runs or task.id in record.plan.all_tasks():
            self.complain(event, f"a new name for an added task, not '{task.id}'", "a task of that name; not added")
            return
        record.runs[task.id] = run_of(task, "added")
        record.runs[task.id].events.append(event.id)
        if event.before is not None and event.before in record.order:
            record.order.insert(record.order.index(event.before), task.id)
        elif task.start is not None:
            starts = {t: record.runs[t].task.start for t in record.order}
            later = (i for i, t in enumerate(record.order) if (s := starts[t]) is None or s > task.start)
            record.order.insert(next(later, len(record.order)), task.id)
        else:
            record.order.append(task.id)

    def place_added(self, event: Any) -> None:
        """At the time of the event: an added task without a place of its own goes ahead of what remains."""
        run = self.record.runs.get(event.task.id)
        if run is None or event.id not in run.events:
            return
        if event.before is not None:
            self._put_before(event, event.task.id, event.before)
        elif event.task.start is None and run.state == NOT_STARTED and not run.task.get_ahead:
            self._put_ahead([event.task.id], held=())

    def move(self, event: Any) -> None:
        run = self.run(event.task)
        if run is None:
            return
        if run.state in (DONE, BROKEN_OFF):
            self.complain(event, f"{event.task} not over yet", f"{event.task} {run.state}; not moved")
            return
        run.events.append(event.id)
        if event.lane is not None:
            self._hand_over(event, run)
        if event.before is not None:
            self._put_before(event, event.task, event.before)

    def _hand_over(self, event: Any, run: TaskRun) -> None:
        lane, kinds = event.lane, {lane.id: lane.kind for lane in self.record.plan.lanes}
        if lane in run.lanes:
            return
        leaving = run.lanes if len(run.lanes) == 1 else [n for n in run.lanes if kinds[n] == kinds[lane]]
        if len(leaving) != 1:
            self.complain(
                event, f"one lane of {run.task.id} that {lane} can stand in for", f"lanes {', '.join(run.lanes)}; "
                "not moved"
            )
            return
        if lane not in (*run.task.can_move_to, *run.task.lanes):
            can = ", ".join(run.task.can_move_to) or "no other lane"
            self.complain(event, f"{run.task.id} to be handed to {can}", f"handed to {lane}; applied")
        new_lanes = tuple(lane if name == leaving[0] else name for name in run.lanes)
        if run.state == IN_WORK:
            self.in_work.get(leaving[0], set()).discard(run.task.id)
            self._complain_if_busy(event, run, lane)
            self.in_work.setdefault(lane, set()).add(run.task.id)
        run.lanes = new_lanes

    def _put_before(self, event: Any, task_id: str, before: str) -> None:
        order = self.record.order
        if before == task_id or self.run(before) is None or before not in order:
            self.complain(event, f"another task of the plan of record to go before, not '{before}'", "order kept")
            return
        order.remove(task_id)
        order.insert(order.index(before), task_id)

    # -- the rest ------------------------------------------------------------------------------------------------

    def reading(self, event: Any) -> None:
        pet = self.pet(event)
        for name in ("oxygen", "co2", "battery", "water"):
            value = getattr(event, name)
            if value is not None:
                self.record.readings.setdefault((event.suit, name), []).append(Reading(pet, value, event.id))
        self.record.last_reading_at = event.at

    def check(self, event: Any) -> None:
        self.record.checks[event.check, event.lane] = self.pet(event)

    def end(self, event: Any) -> None:
        record = self.record
        if record.end_pet_min is not None:
            self.complain(event, "one end of the sortie", "another one; the first stands")
            return
        record.end_pet_min = self.pet(event)
        open_tasks = [t for t, run in record.runs.items() if run.state in (IN_WORK, ON_HOLD)]
        if open_tasks:
            self.complain(event, "no task in work or on hold at the end", ", ".join(open_tasks))


_HANDLERS: dict[str, Callable[[_Fold, Any], None]] = {
    "start": _Fold.start,
    "done": _Fold.done,
    "hold": _Fold.hold,
    "resume": _Fold.resume,
    "break_off": _Fold.break_off,
    "estimate": _Fold.estimate,
    "defer": _Fold.defer,
    "reinstate": _Fold.reinstate,
    "trim": _Fold.trim,
    "insert": _Fold.insert,
    "choose": _Fold.choose,
    "add": _Fold.place_added,
    "move": _Fold.move,
    "reading": _Fold.reading,
    "check": _Fold.check,
    "decision": _Fold.decision,
    "end": _Fold.end,
}
