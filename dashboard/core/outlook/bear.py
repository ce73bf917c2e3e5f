"""What the plan can bear: late starts, lost time, the worst delay, the way back through the sortie, and what certainty costs.

Nothing here is a rule of its own. Latest starts, turn-back and leave-by times are those of the state; what goes is found by the
advice (`core/deferral`). What goes at a late start is found at plan pace; what goes after lost time and for the ladder reaches
the chance as drawn. Unless it is asked for, the first set that reaches it is taken, and it is not proven to cost least.

Late starts and lost time are about a sortie that has gone as planned until then. The worst delay and the ladder are about the
brief at PET zero.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from dashboard.core.base.caution import CAUTION
from dashboard.core.base.minutes import length
from dashboard.core.base.times import plus_minutes
from dashboard.core.deferral.advise import STEPS, Advised, Stopped, advise
from dashboard.core.deferral.change import closed, value_lost
from dashboard.core.deferral.cut_at_plan_pace import cut_at_plan_pace
from dashboard.core.deferral.figures import Figures, figures_of
from dashboard.core.events.change import Change, Part
from dashboard.core.events.hold import Hold, Resume
from dashboard.core.outlook.as_planned import events_until, record_at, record_with_delay
from dashboard.core.outlook.bear_model import (
    Bears,
    CertaintyStep,
    Cut,
    Delay,
    HourBack,
    LeaveBy,
    LostTime,
    TaskBears,
)
from dashboard.core.outlook.briefed import Briefed, named
from dashboard.core.outlook.way_back import at_every_hour, hours, way_back_of
from dashboard.core.plan.model import Duration, Task
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from dashboard.core.schedule.plan_pace import project, write_latest_starts
from dashboard.core.suits.constants import IDLE_WORKLOAD

LATER_MIN = 15.0
LOST_MIN = 30.0
MOST_TASKS_WITH_CUTS = 200  # for a plan with more tasks, what would be given up is not worked out
MOST_DELAYED = 80
MOST_HOURS = 12
WORST = 5
WORST_DRAWN = 10

Progress = Callable[[str], None]


def what_it_bears(briefed: Briefed, *, proven: bool = False, progress: Progress = lambda what: None) -> Bears:
    """Work out what a plan can bear.

    Parameters
    ----------
    briefed
        The plan with its forecast.
    proven
        Whether what goes is to be proven to cost least, which takes much longer.
    progress
        Called with what is worked out next, in words.

    Returns
    -------
    Bears
    """
    plan, state = briefed.plan, briefed.state
    left_out: list[str] = []
    progress("late starts")
    tasks = _tasks(briefed, left_out)
    progress("lost time")
    lost = _lost(briefed, left_out, proven)
    progress("the worst delay")
    worst = _worst(briefed, left_out)
    progress("the ladder of certainty")
    ladder = _ladder(briefed, proven)
    turn_back = way_back_of(briefed).turn_back()
    return Bears(
        sortie=plan.sortie.id, title=plan.sortie.title, limit_pet_min=briefed.limit_pet_min,
        end_plan_pace_pet_min=state.end.plan_pace_pet_min, in_by_limit=briefed.chance, confidence=plan.sortie.confidence,
        tasks=tasks, lost=lost, worst=worst,
        turn_back_pet_min=None if turn_back is None else turn_back.pet_min,
        turn_back_set_by=None if turn_back is None else turn_back.set_by,
        hours=[
            HourBack(
                pet_min=one.pet_min, places={lane: place.going_to or place.worksite for lane, place in one.places.items()},
                back_min={lane: place.back_min for lane, place in one.places.items()}, spare_min=one.spare_min, set_by=one.by,
            )
            for one in at_every_hour(briefed)
        ],
        leave_by=[
            LeaveBy(worksite=name, leave_by_pet_min=by, set_by=site.leave_by_set_by, leaves_pet_min=site.leaves_pet_min)
            for name, site in state.worksites.items() if (by := site.leave_by_pet_min) is not None
        ],
        ladder=ladder, left_out=left_out, caution=CAUTION,
    )  # fmt: skip


# -- what goes, by the advice --------------------------------------------------------------------------------------


def _said(record: Record, part: Part) -> str:
    """One act of a change in words."""
    if part.kind == "choose":
        return f"'{part.to}' for {part.name}"
    task = named(record.runs[part.name].task)
    match part.kind:
        case "trim":
            return f"{task} cut to {length(float(part.to or 0.0))}"
        case "break_off":
            return f"{task} broken off"
        case "move":
            return f"{task} to {part.to}"
    return task


def _cut(record: Record, figures: Figures, *, reached: bool, proven: bool) -> Cut:
    return Cut(
        reached=reached, goes=[_said(record, part) for part in figures.change.parts()], value_lost=dict(figures.value_lost),
        in_by_limit=figures.in_by_limit, proven=proven,
    )  # fmt: skip


def _at_plan_pace(record: Record) -> Cut:
    """What goes so that limit and reserves hold at plan pace."""
    change = cut_at_plan_pace(record)
    if change is None:
        return Cut(reached=False, goes=[], value_lost={})
    whole = closed(record, change)
    return Cut(reached=True, goes=[_said(record, part) for part in whole.parts()], value_lost=value_lost(record, whole))


def cut_for(record: Record, confidence: float, draws: int, *, proven: bool = False) -> Cut:
    """What goes so that the crew is in time with a chance.

    Parameters
    ----------
    record
        From `reconcile`.
    confidence
        Wanted chance.
    draws
        Number of draws.
    proven
        Whether it is to be proven that nothing costs less; else the first set that the advice finds is taken.

    Returns
    -------
    Cut
        With nothing that goes when the chance is reached as it is, or when nothing remains to be done.
    """
    first: list[Advised] = []
    try:
        advised = advise(
            record, confidence=confidence, choices=1, draws=draws, better=None if proven else first.append,
            stop=lambda: bool(first),
        )
    except Stopped:
        advised = first[0]
    if not advised.needed or not advised.proposals:
        return Cut(reached=True, goes=[], value_lost={}, in_by_limit=advised.now.in_by_limit, proven=True)
    best = advised.proposals[0]
    return _cut(record, best.figures, reached=best.reached, proven=best.proven)


# -- the parts -----------------------------------------------------------------------------------------------------


def _tasks(briefed: Briefed, left_out: list[str]) -> list[TaskBears]:
    """Each task of the plan of record in the order of its start; what goes is worked out for those with the least slack."""
    projection, record = project(briefed.record), briefed.record
    write_latest_starts(record, projection, briefed.state.limit.pet_min)
    slack = {
        task_id: slot.latest_start_pet_min - slot.start_pet_min
        for task_id, slot in projection.slots.items() if slot.latest_start_pet_min is not None
    }
    cuts: dict[str, Cut | None] = {}
    many = len(briefed.plan.tasks) > MOST_TASKS_WITH_CUTS
    if many:
        left_out.append(f"what goes, since the plan has more than {MOST_TASKS_WITH_CUTS} tasks")
    as_it_is = _at_plan_pace(record) if not many and any(minutes < 0 for minutes in slack.values()) else None
    for task_id in slack if not many else ():
        latest = projection.slots[task_id].latest_start_pet_min
        assert latest is not None
        late = slack[task_id] < 0
        cuts[task_id] = as_it_is if late else _at_plan_pace(record_with_delay(briefed, task_id, latest + LATER_MIN, latest))
    return [
        TaskBears(
            task=task_id, title=record.runs[task_id].task.title, lanes=list(record.runs[task_id].lanes),
            start_pet_min=slot.start_pet_min, finish_pet_min=slot.finish_pet_min, latest_start_pet_min=slot.latest_start_pet_min,
            slack_min=slack.get(task_id), cut=cuts.get(task_id),
        )
        for task_id, slot in sorted(projection.slots.items(), key=lambda one: one[1].start_pet_min)
    ]


def with_lost_time(briefed: Briefed, pet_min: float, lost_min: float) -> Record:
    """The record of a sortie that has gone as planned, and in which everybody has then stood still.

    Parameters
    ----------
    briefed
        The plan with its forecast.
    pet_min
        PET minutes at which everybody stops.
    lost_min
        For how long.

    Returns
    -------
    Record
        At the end of the stop.
    """
    zero = briefed.plan.sortie.start
    begun, over = plus_minutes(zero, pet_min), plus_minutes(zero, pet_min + lost_min)
    stop = Hold(kind="hold", id="time lost", at=begun, all=True)
    events = [*events_until(briefed.plan, briefed.projection, pet_min), stop]
    return reconcile(briefed.plan, [*events, Resume(kind="resume", id="goes on", at=over, all=True)], over)


def _lost(briefed: Briefed, left_out: list[str], proven: bool) -> list[LostTime]:
    every = hours(briefed)
    tried = every if len(every) <= MOST_HOURS else [h for i, h in enumerate(every) if i % -(-len(every) // MOST_HOURS) == 0]
    if len(tried) < len(every):
        left_out.append(f"lost time at {len(every) - len(tried)} of {len(every)} hours")
    found = []
    for pet_min in tried:
        before = _figures(briefed, record_at(briefed, pet_min))
        record = with_lost_time(briefed, pet_min, LOST_MIN)
        after = _figures(briefed, record)
        cut = None
        if len(briefed.plan.tasks) <= MOST_TASKS_WITH_CUTS:
            cut = cut_for(record, briefed.plan.sortie.confidence, briefed.draws, proven=proven)
        found.append(LostTime(
            pet_min=pet_min, lost_min=LOST_MIN, in_by_limit_before=before.in_by_limit, in_by_limit_after=after.in_by_limit,
            end_later_min=_later(before, after), cut=cut,
        ))  # fmt: skip
    return found


def _figures(briefed: Briefed, record: Record) -> Figures:
    """Figures of giving up nothing."""
    wanted = briefed.plan.sortie.confidence
    return figures_of(record, project(record), Change(), confidence=wanted, draws=briefed.draws)


def _later(before: Figures, after: Figures) -> float | None:
    if before.end_pet_min is None or after.end_pet_min is None:
        return None
    return after.end_pet_min - before.end_pet_min


def _worst(briefed: Briefed, left_out: list[str]) -> list[Delay]:
    """The delays that cost most chance. Only those that move the plan-pace end most, or miss a window, are drawn."""
    slots, end = briefed.projection.slots, briefed.projection.end_pet_min
    if end is None:
        return []
    missed = {task_id for task_id, slot in slots.items() if slot.window_missed}
    moved: dict[str, tuple[int, float]] = {}
    least = sorted(slots, key=lambda task_id: math.inf if (slack := slots[task_id].float_min) is None else slack)[:MOST_DELAYED]
    if len(least) < len(slots):
        left_out.append(f"delays before tasks other than the {MOST_DELAYED} that the end waits for most")
    for task_id in least:
        late = project(with_delay(briefed, task_id, LOST_MIN))
        now_missed = sum(1 for other, one in late.slots.items() if one.window_missed and other not in missed)
        moved[task_id] = (now_missed, (late.end_pet_min or end) - end)
    drawn = sorted(moved, key=lambda task_id: (*(-part for part in moved[task_id]), slots[task_id].start_pet_min))[:WORST_DRAWN]
    found = [_delay(briefed, task_id, missed) for task_id in drawn]
    return sorted(found, key=lambda one: (-_fall(one), -len(one.window_missed), -one.end_later_min))[:WORST]


def with_delay(briefed: Briefed, task_id: str, lost_min: float) -> Record:
    """The record at PET zero of a brief in which time is lost right before one task.

    Parameters
    ----------
    briefed
        The plan with its forecast.
    task_id
        A task of the plan of record.
    lost_min
        Its lanes stand still for so long once the task could begin, windows and 'not_before' apart.

    Returns
    -------
    Record
    """
    plan, task = briefed.plan, briefed.record.runs[task_id].task
    lost = Task(
        id=f"time-lost-before-{task_id}"[:60], lanes=task.lanes, start=task.start, after=task.after, follows=task.follows,
        duration=Duration(low=lost_min, likely=lost_min, high=lost_min, exact=True), required=True, workload=IDLE_WORKLOAD,
        priority=task.priority,
    )  # fmt: skip
    place = briefed.places[task_id][1]
    assert isinstance(place, int)
    delayed = plan.model_copy(update={"tasks": (*plan.tasks[:place], lost, *plan.tasks[place:])})
    return reconcile(delayed, [], plan.sortie.start)


def _delay(briefed: Briefed, task_id: str, missed_before: set[str]) -> Delay:
    record = with_delay(briefed, task_id, LOST_MIN)
    after, slots = _figures(briefed, record), project(record).slots
    return Delay(
        task=task_id, title=briefed.record.runs[task_id].task.title, delay_min=LOST_MIN,
        start_pet_min=briefed.projection.slots[task_id].start_pet_min,
        end_later_min=(after.end_pet_min or 0.0) - (briefed.projection.end_pet_min or 0.0),
        in_by_limit_before=briefed.chance, in_by_limit_after=after.in_by_limit,
        window_missed=[other for other, slot in slots.items() if slot.window_missed and other not in missed_before],
    )  # fmt: skip


def _fall(delay: Delay) -> float:
    """How much chance a delay costs, rounded so that noise of the draws decides nothing."""
    before, after = delay.in_by_limit_before, delay.in_by_limit_after
    return 0.0 if before is None or after is None else round(before - after, 2)


def _ladder(briefed: Briefed, proven: bool) -> list[CertaintyStep]:
    """What would have to go at PET zero: at plan pace, and for each step of certainty."""
    if briefed.chance is None or len(briefed.plan.tasks) > MOST_TASKS_WITH_CUTS:
        return []
    if proven:
        told = advise(briefed.record, choices=1, draws=briefed.draws, ladder=True).ladder
        return [
            CertaintyStep(wanted=step.wanted, cut=_nothing(briefed) if step.figures is None else _cut(
                briefed.record, step.figures, reached=True, proven=step.proven))
            for step in told
        ]
    steps = [CertaintyStep(wanted=None, cut=_at_plan_pace(briefed.record))]
    for wanted in sorted({*STEPS, briefed.plan.sortie.confidence}):
        steps.append(CertaintyStep(wanted=wanted, cut=cut_for(briefed.record, wanted, briefed.draws)))
    return steps


def _nothing(briefed: Briefed) -> Cut:
    return Cut(reached=False, goes=[], value_lost={}, in_by_limit=briefed.chance)
