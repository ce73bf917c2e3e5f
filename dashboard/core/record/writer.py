"""What the verbs of events (`dashboard.core.events.recorder`) do to a `Record`.

Everything that depends on one kind of event stands in the class of that kind. This module says what the record does.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from dashboard.core.base.findings import Discrepancy
from dashboard.core.base.times import minutes_between
from dashboard.core.events.event import Event
from dashboard.core.events.recorder import Logged, Recorder
from dashboard.core.plan.model import MOST_NAMES, Task
from dashboard.core.record.lifecycle import BROKEN_OFF, DEFERRED, DONE, IN_WORK, NOT_STARTED, ON_HOLD, TABLE
from dashboard.core.record.record import AmountLeft, Record, TaskRun, out_of_plan, run_of


class RecordWriter(Recorder):
    """Writes into a record what events say.

    Parameters
    ----------
    record : Record
        Filled in place.
    in_work : dict or None
        For a record to which events were applied: lane -> tasks in work in it. None: it is a new one.
    """

    def __init__(self, record: Record, in_work: dict[str, set[str]] | None = None) -> None:
        self.plan = record.plan
        self._record = record
        self.in_work: dict[str, set[str]] = {} if in_work is None else in_work

    # -- small helpers -------------------------------------------------------------------------------------------

    def complain(self, event: Logged, expected: str, found: str) -> None:
        self._record.discrepancies.append(
            Discrepancy(event=event.id, at=event.at, pet_min=self._pet_min_of(event), expected=expected, found=found)
        )

    def so_far(self, task_id: str) -> TaskRun | None:
        run = self._record.runs.get(task_id)
        if run is None and (task := self.plan.all_tasks().get(task_id)) is not None:
            run = self._record.runs[task_id] = run_of(task, "contingency")
            self._put_ahead([task_id], held=())
        return run

    def mark(self, event: Logged, task_id: str) -> None:
        run = self.so_far(task_id)
        if run is not None:
            run.events.append(event.id)

    def step(self, event: Logged, task_id: str, action: str) -> bool:
        run = self.so_far(task_id)
        if run is None:
            return False
        before = run.state
        step = TABLE[before, action]
        if step.expected is not None:
            self.complain(event, step.expected, f"{action.replace('_', ' ')} of {task_id}, which is {before}")
        run.events.append(event.id)
        if step.to == before:
            return False
        pet = self._pet_min_of(event)
        if before == IN_WORK:
            self._stop_working(run, pet)
        run.state = step.to
        if step.to == IN_WORK:
            self._begin_working(run, pet, opened_again=before in (DONE, BROKEN_OFF))
        elif step.to in (DONE, BROKEN_OFF):
            run.finish_pet_min = pet
            run.held_by = run.hold_reason = None
        return True

    def _pet_min_of(self, event: Logged) -> float:
        return minutes_between(self._record.pet_zero, event.at)

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
        order, runs, held = self._record.order, self._record.runs, set(held)
        order[:] = [t for t in order if t not in task_ids]
        place = next(
            (i for i, t in enumerate(order) if t in held or runs[t].state in (NOT_STARTED, ON_HOLD)), len(order)
        )
        order[place:place] = task_ids

    # -- work ----------------------------------------------------------------------------------------------------

    def start(self, event: Logged, task_id: str, lanes: tuple[str, ...] | None) -> None:
        run = self.so_far(task_id)
        if run is None:
            return
        if lanes is not None and run.state == IN_WORK and not set(lanes) <= set(run.lanes):
            run.lanes = tuple(dict.fromkeys((*run.lanes, *lanes)))
            run.events.append(event.id)
            for lane in lanes:
                self._complain_if_busy(event, run, lane)
                self.in_work.setdefault(lane, set()).add(run.task.id)
            return
        if run.state != IN_WORK:
            run.lanes = run.lanes if lanes is None else lanes
            self._complain_before_its_turn(event, run)
        self.step(event, task_id, "start")

    def _complain_before_its_turn(self, event: Logged, run: TaskRun) -> None:
        pet = self._pet_min_of(event)
        for needed in run.task.after:
            other = self.so_far(needed)
            if other is not None and other.state != DONE and not self._is_leg_that_goes(needed):
                self.complain(event, f"{needed} done before {run.task.id} starts", f"{needed} {other.state}")
        for follow in run.task.follows:
            other = self._record.runs.get(follow.task)
            if other is None or other.state in (DEFERRED, BROKEN_OFF):
                continue
            if other.state == NOT_STARTED and follow.task in out_of_plan(self._record):
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
            if lane in self._record.held_lanes and run.origin != "contingency":
                self.complain(event, f"lane {lane} resumed before work starts in it", f"lane {lane} on hold")

    def _complain_if_busy(self, event: Logged, run: TaskRun, lane: str) -> None:
        for other in sorted(self.in_work.get(lane, set()) - {run.task.id}):
            self.complain(event, f"lane {lane} free to start {run.task.id}", f"{other} still in work there")

    def hold_task(self, event: Logged, task_id: str, cause: str, reason: str | None) -> None:
        run = self.so_far(task_id)
        if self.step(event, task_id, "hold") and run is not None:
            run.held_by, run.hold_reason, run.held_since_pet_min = cause, reason, self._pet_min_of(event)

    def hold_lanes(self, event: Logged, lanes: Iterable[str], cause: str, reason: str | None) -> None:
        record, lanes = self._record, tuple(lanes)
        for lane in lanes:
            record.held_lanes[lane] = reason
            record.held_since[lane] = self._pet_min_of(event)
        in_work = sorted({t for lane in lanes for t in self.in_work.get(lane, set())}, key=record.order.index)
        for task_id in in_work:
            self.hold_task(event, task_id, cause, reason)

    def resume_task(self, event: Logged, task_id: str) -> None:
        run = self.so_far(task_id)
        if run is not None and run.state == ON_HOLD:
            for lane in run.lanes:
                self._complain_if_busy(event, run, lane)
                self._record.held_lanes.pop(lane, None)
        self.step(event, task_id, "resume")

    def resume_lanes(self, event: Logged, lanes: Iterable[str]) -> None:
        record, lanes = self._record, set(lanes)
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

    def estimate(self, event: Logged, task_id: str, remaining_min: float) -> None:
        run = self.so_far(task_id)
        if run is None:
            return
        if run.state not in (IN_WORK, ON_HOLD):
            self.complain(event, f"{task_id} in work or on hold", f"{task_id} {run.state}; estimate set aside")
            return
        run.worked_at_estimate_min = run.worked_min(self._pet_min_of(event))
        run.whole_by_estimate_min = run.worked_at_estimate_min + remaining_min
        run.events.append(event.id)

    def _is_leg_that_goes(self, task_id: str) -> bool:
        return self._record.runs[task_id].task.leg is not None and task_id in out_of_plan(self._record)

    # -- the plan of record --------------------------------------------------------------------------------------

    def defer(self, event: Logged, task_id: str) -> None:
        run = self.so_far(task_id)
        if self.step(event, task_id, "defer") and run is not None:
            run.kept = False
            if run.task.required:
                self.complain(event, f"{task_id} not to be deferred (required)", "defer; applied")

    def reinstate(self, event: Logged, task_ids: Iterable[str]) -> None:
        out = out_of_plan(self._record)
        for task_id in task_ids:
            run = self.so_far(task_id)
            if run is None:
                continue
            if run.state == NOT_STARTED and task_id in out:
                self.complain(event, f"what {task_id} comes after in the plan of record too", out[task_id].why)
                run.kept = True
                run.events.append(event.id)
            elif self.step(event, task_id, "reinstate"):
                self._put_behind_contingencies(run)

    def _put_behind_contingencies(self, run: TaskRun) -> None:
        """What comes back is part of the rest of its lanes: what remains of an inserted contingency goes first."""
        order, runs = self._record.order, self._record.runs
        ahead = [
            i for i, t in enumerate(order)
            if runs[t].origin == "contingency" and runs[t].state in (NOT_STARTED, IN_WORK, ON_HOLD)
            and set(runs[t].lanes) & set(run.lanes)
        ]
        place = order.index(run.task.id)
        if run.origin != "contingency" and ahead and ahead[-1] > place:
            order.insert(ahead[-1], order.pop(place))

    def set_length(self, event: Logged, task_id: str, length_min: float) -> None:
        run = self.so_far(task_id)
        if run is None:
            return
        estimate_min = run.whole_by_estimate_min
        if length_min > run.planned_min or (estimate_min is not None and estimate_min > length_min):
            run.whole_by_estimate_min = None
        run.planned_min, run.length_set = length_min, length_min != run.task.likely_min
        run.events.append(event.id)

    def insert(self, event: Logged, contingency_id: str) -> None:
        record = self._record
        if contingency_id in record.inserted:
            self.complain(event, f"contingency {contingency_id} not yet inserted", "it was; nothing changed")
            return
        record.inserted.append(contingency_id)
        contingency = next(c for c in record.plan.contingencies if c.id == contingency_id)
        task_ids = [task.id for task in contingency.tasks]
        for task in contingency.tasks:
            if task.id not in record.runs:
                record.runs[task.id] = run_of(task, "contingency")
            record.runs[task.id].events.append(event.id)
        self._put_ahead(
            [t for t in task_ids if record.runs[t].state == NOT_STARTED], held=contingency.hold
        )
        for held in contingency.hold:
            run = self.so_far(held)
            if run is None or run.state in (DONE, BROKEN_OFF, DEFERRED):
                continue
            record.blocked_by.setdefault(held, []).extend(task_ids)
            if run.state == IN_WORK:
                self.hold_task(event, held, f"contingency {contingency.id}", contingency.trigger or contingency.id)
            else:
                run.events.append(event.id)

    def choose(self, event: Logged, alternative_id: str, option: str) -> None:
        record = self._record
        alternative = next(a for a in record.plan.alternatives if a.id == alternative_id)
        taken = set(alternative.options[option])
        for name, task_ids in alternative.options.items():
            for task_id in task_ids:
                if name != option and task_id not in taken and record.runs[task_id].state != NOT_STARTED:
                    self.complain(
                        event, f"nothing of option '{name}' begun", f"{task_id} {record.runs[task_id].state}"
                    )
        record.chosen[alternative_id] = option

    def add(self, event: Logged, task: Task, before: str | None) -> None:
        record = self._record
        if task.id in record.runs or task.id in record.plan.all_tasks():
            self.complain(event, f"a new name for an added task, not '{task.id}'", "a task of that name; not added")
            return
        if sum(run.origin == "added" for run in record.runs.values()) >= MOST_NAMES:
            self.complain(event, f"at most {MOST_NAMES} added tasks", f"one more, {task.id}; not added")
            return
        record.runs[task.id] = run_of(self._without_rings(event, task), "added")
        record.runs[task.id].events.append(event.id)
        if before is not None and before in record.order:
            record.order.insert(record.order.index(before), task.id)
        elif task.start is not None:
            starts = {t: record.runs[t].task.start for t in record.order}
            later = (i for i, t in enumerate(record.order) if (s := starts[t]) is None or s > task.start)
            record.order.insert(next(later, len(record.order)), task.id)
        else:
            record.order.append(task.id)

    def _without_rings(self, event: Logged, task: Task) -> Task:
        """The task without the links that lead back to it: a ring of them would let none of its tasks start."""
        known = {**self.plan.all_tasks(), **{task_id: run.task for task_id, run in self._record.runs.items()}}
        back = [needed for needed in _needs(task) if needed == task.id or task.id in _all_needed(needed, known)]
        if not back:
            return task
        self.complain(
            event, f"tasks before {task.id} that do not wait for {task.id} themselves", f"{', '.join(back)}; left out"
        )
        kept = tuple(follow for follow in task.follows if follow.task not in back)
        return task.model_copy(update={"after": tuple(t for t in task.after if t not in back), "follows": kept})

    def place_added(self, event: Logged, task: Task, before: str | None) -> None:
        run = self._record.runs.get(task.id)
        if run is None or event.id not in run.events:
            return
        if before is not None:
            self.put_before(event, task.id, before)
        elif task.start is None and run.state == NOT_STARTED and not run.task.get_ahead:
            self._put_ahead([task.id], held=())

    def hand_over(self, event: Logged, task_id: str, lane: str) -> None:
        run, kinds = self.so_far(task_id), {lane.id: lane.kind for lane in self.plan.lanes}
        if run is None or lane in run.lanes:
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

    def put_before(self, event: Logged, task_id: str, before: str) -> None:
        order = self._record.order
        if before == task_id or self.so_far(before) is None or before not in order:
            self.complain(event, f"another task of the plan of record to go before, not '{before}'", "order kept")
            return
        order.remove(task_id)
        order.insert(order.index(before), task_id)

    # -- the rest ------------------------------------------------------------------------------------------------

    def read(self, event: Logged, suit: str, left: Mapping[str, float]) -> None:
        pet = self._pet_min_of(event)
        for name, value in left.items():
            self._record.readings.setdefault((suit, name), []).append(AmountLeft(pet, value, event.id))
        self._record.last_reading_at = event.at

    def check_made(self, event: Logged, check: str, lane: str) -> None:
        self._record.checks[check, lane] = self._pet_min_of(event)

    def end(self, event: Logged) -> None:
        record = self._record
        if record.end_pet_min is not None:
            self.complain(event, "one end of the sortie", "another one; the first stands")
            return
        record.end_pet_min = self._pet_min_of(event)
        open_tasks = [t for t, run in record.runs.items() if run.state in (IN_WORK, ON_HOLD)]
        if open_tasks:
            self.complain(event, "no task in work or on hold at the end", ", ".join(open_tasks))


def _needs(task: Task) -> list[str]:
    """The tasks that a task waits for, each once."""
    return list(dict.fromkeys((*task.after, *(follow.task for follow in task.follows))))


def _all_needed(task_id: str, known: Mapping[str, Task]) -> set[str]:
    """Everything that a task waits for, through other tasks too."""
    found: set[str] = set()
    waiting = [task_id]
    while waiting:
        task = known.get(waiting.pop())
        more = [] if task is None else [needed for needed in _needs(task) if needed not in found]
        found.update(more)
        waiting += more
    return found


def take(writer: RecordWriter, event: Event) -> None:
    """Apply an event. A task that it names and that was not added, though an event adds it, is listed.

    Parameters
    ----------
    writer
        Of the record.
    event
        The next one in order.
    """
    named = (one.name for one in event.names() if one.sort == "task")
    missing = [name for name in named if name not in writer.plan.all_tasks() and writer.so_far(name) is None]
    if missing:
        writer.complain(event, "tasks of the plan of record", f"{', '.join(missing)}, which was not added")
    event.apply(writer)
