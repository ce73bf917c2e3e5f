"""The brief: the plan walked through before the sortie, step by step.

What is projected comes from the state at PET zero without any event, and decide-by times from the one rule of
`deferral/when_to_decide.py`. So the brief, `tetherline state` at PET zero and the advice cannot disagree.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from dashboard.core.base.caution import CAUTION
from dashboard.core.brief.compare import issue_of
from dashboard.core.brief.facts import (
    Before,
    Brief,
    BriefCheck,
    BriefContingency,
    BriefStep,
    BriefWait,
    BriefWindow,
    ContingencyStep,
    Decision,
    Ending,
    GetAhead,
    GiveUp,
    LaneThen,
    StepWindow,
)
from dashboard.core.brief.revision import revision_of
from dashboard.core.brief.waits import finish_of, in_order, waits_of
from dashboard.core.deferral.items import protected
from dashboard.core.deferral.sense import GoesWith, closed_under, rules_of_sense
from dashboard.core.deferral.when_to_decide import Times, decide_by
from dashboard.core.events.change import Part
from dashboard.core.plan.briefed import briefed_tasks, options_not_default
from dashboard.core.plan.model import Alternative, Check, Contingency, Plan, Task
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import DRAWS
from dashboard.core.schedule.plan_pace import project
from dashboard.core.schedule.windows import TINY_MIN, windows_by_kind
from dashboard.core.state.follow import state_with_draws
from dashboard.core.state.model import SortieState
from dashboard.core.suits.place import return_min
from dashboard.core.suits.way_home import tasks_of_way_home


def brief(plan: Plan, *, against: Plan | None = None, draws: int = DRAWS) -> Brief:
    """The brief of a plan.

    Parameters
    ----------
    plan
        As briefed.
    against
        The plan of the last issue; None: there is nothing to compare with.
    draws
        Draws of the expected projection; with 0 it is left out, and decide-by times are those at plan pace.

    Returns
    -------
    Brief
    """
    start = plan.sortie.start
    record = reconcile(plan, [], start)
    state, expected = state_with_draws(record, start, draws=draws)
    remaining = [t for t in record.order if record.in_plan(t) and not record.runs[t].task.get_ahead]
    known = _Known(
        plan, record, state, Times(project(record), expected), waits_of(plan), rules_of_sense(record, remaining),
        {lane: in_order(briefed_tasks(plan, lane)) for lane in plan.lane_ids()},
    )  # fmt: skip
    endings = [_ending(known, one) for one in plan.alternatives]
    steps = list(_steps(known))
    return Brief(
        sortie=plan.sortie.id,
        title=plan.sortie.title,
        revision=revision_of(plan),
        start=start,
        planned_limit_pet_min=plan.sortie.limit,
        reserve_min=plan.sortie.reserve,
        confidence=plan.sortie.confidence,
        limit=state.limit,
        end=state.end,
        lanes={lane.id: lane.kind for lane in plan.lanes},
        worksites={site.id: site.title for site in plan.worksites},
        windows=[
            BriefWindow(kind=kind, from_pet_min=one.from_, to_pet_min=one.to)
            for kind, every in windows_by_kind(plan.windows).items() for one in every
        ],
        checks=[_check(one, state.end.briefed_pet_min or 0.0) for one in plan.checks],
        ways=state.worksites,
        suits=state.suits,
        suits_not_known={name: why for name, why in state.not_known.items() if name.startswith("suits")},
        steps=steps,
        waits=known.waits,
        get_aheads=[_get_ahead(task) for task in plan.tasks if task.start is None or task.get_ahead],
        contingencies=[_contingency(plan, one) for one in plan.contingencies],
        endings=endings,
        decisions=sorted(_decisions(known, steps, endings), key=lambda one: one.by_pet_min),
        against=None if against is None else issue_of(against, plan),
        caution=CAUTION,
    )


class _Known(NamedTuple):
    """The plan, and what is known at PET zero: which tasks go along with others, and the briefed tasks of each lane in order."""

    plan: Plan
    record: Record
    state: SortieState
    times: Times
    waits: list[BriefWait]
    rules: list[GoesWith]
    briefed: dict[str, list[Task]]


# Steps ------------------------------------------------------------------------------------------


def _steps(known: _Known) -> Iterator[BriefStep]:
    home, other = tasks_of_way_home(known.record), options_not_default(known.plan)
    with_start = in_order([task for task in known.plan.tasks if task.start is not None and not task.get_ahead])
    seen: set[str] = set()
    for number, task in enumerate(with_start, start=1):
        option = _option(known.plan, task.id)
        own = {one.id for one in known.plan.alternatives if any(task.id in names for names in one.options.values())}
        opens = [one.id for one in known.plan.alternatives if one.id in own - seen]
        seen.update(opens)
        yield _step(known, number, task, option=option, is_default=task.id not in other, opens=opens, home=task.id in home)


def _step(
    known: _Known, number: int, task: Task, *, option: tuple[str, str] | None, is_default: bool, opens: list[str], home: bool
) -> BriefStep:
    start, place = task.start or 0.0, task.leg or task.worksite
    at = known.state.tasks.get(task.id)
    way = known.state.worksites.get(place or "")
    return BriefStep(
        number=number,
        task=task.id,
        title=task.title,
        lanes=list(task.lanes),
        from_pet_min=start,
        to_pet_min=finish_of(task),
        low_min=task.duration.low,
        likely_min=task.duration.likely,
        high_min=task.duration.high,
        boxed=task.boxed,
        worksite=place,
        is_leg=task.leg is not None,
        notes=task.notes,
        priority=task.priority,
        required=task.required,
        comes_after=_before(task),
        not_before_pet_min=task.not_before,
        windows=_windows(known.plan, task),
        lanes_then={lane: _then(known, lane, task) for lane in known.plan.lane_ids()},
        contingencies=[one.id for one in known.plan.contingencies if task.id in _comes_in_at(known.plan, one)],
        alternative=option[0] if option else None,
        option=option[1] if option else None,
        is_default=is_default,
        endings_open=opens,
        give_up=_give_up(known, task, in_plan=is_default),
        projected_start_pet_min=at.projected_start_pet_min if at and at.in_plan else None,
        latest_start_pet_min=at.latest_start_pet_min if at else None,
        float_min=at.float_min if at else None,
        back_min=return_min(known.plan, place),
        leave_by_pet_min=way.leave_by_pet_min if way and not home else None,
    )


def _before(task: Task) -> list[Before]:
    return [
        *(Before(task=name, lag_min=0.0, needed=True) for name in task.after),
        *(Before(task=one.task, lag_min=one.lag, needed=False) for one in task.follows),
    ]


def _windows(plan: Plan, task: Task) -> list[StepWindow]:
    start, found = task.start or 0.0, []
    for kind in task.needs:
        every = windows_by_kind(plan.windows).get(kind, [])
        held = next((w for w in every if w.from_ <= start + TINY_MIN and finish_of(task) <= w.to + TINY_MIN), None)
        later = [w.from_ for w in every if w.from_ > start + TINY_MIN and w.to - w.from_ >= task.likely_min - TINY_MIN]
        found.append(StepWindow(
            kind=kind, from_pet_min=held.from_ if held else None, to_pet_min=held.to if held else None,
            start_by_pet_min=held.to - task.likely_min if held else None, next_from_pet_min=min(later, default=None),
        ))  # fmt: skip
    return found


def _then(known: _Known, lane: str, step: Task) -> LaneThen:
    """What a lane does when a step begins, if the option is taken that the step belongs to."""
    now, here = step.start or 0.0, None
    at_work: Task | None = step if lane in step.lanes else None
    tasks = known.briefed[lane] if step.id not in options_not_default(known.plan) else _with_option(known.plan, lane, step)
    for task in tasks:
        if (task.start or 0.0) > now:
            break
        if lane not in step.lanes and now < finish_of(task):
            at_work = task
        elif task is not step:
            here = task.leg or task.worksite or here
    if at_work is not None:
        going = at_work.leg
        return LaneThen(
            task=at_work.id, worksite=here if going else at_work.worksite or here, going_to=going,
            until_pet_min=finish_of(at_work),
        )  # fmt: skip
    wait = next((w for w in known.waits if w.lane == lane and w.from_pet_min <= now < w.to_pet_min), None)
    return LaneThen(
        task=None, worksite=here, wait=wait.wait if wait else None,
        until_pet_min=next((task.start for task in tasks if task.start is not None and task.start > now), None),
    )  # fmt: skip


def _with_option(plan: Plan, lane: str, step: Task) -> list[Task]:
    """The briefed tasks of a lane if the option is taken that a step belongs to."""
    taken = {a.id: next((o for o, names in a.options.items() if step.id in names), a.default) for a in plan.alternatives}
    chosen = {a.id: set(a.options[taken[a.id]]) for a in plan.alternatives}
    out = {name for a in plan.alternatives for names in a.options.values() for name in names} - set().union(*chosen.values())
    return in_order([t for t in plan.tasks if lane in t.lanes and t.start is not None and not t.get_ahead and t.id not in out])


def _option(plan: Plan, task_id: str) -> tuple[str, str] | None:
    """The alternative and the option of a task; for a task of several options the default, or else the first."""
    found = [(a, option) for a in plan.alternatives for option, names in a.options.items() if task_id in names]
    chosen = next(((a, option) for a, option in found if option == a.default), found[0] if found else None)
    return None if chosen is None else (chosen[0].id, chosen[1])


def _give_up(known: _Known, task: Task, *, in_plan: bool) -> GiveUp:
    free = not protected(known.record.runs[task.id])
    goes = closed_under(known.rules, {task.id}) if free and in_plan else set()
    free = bool(goes) and all(not protected(known.record.runs[name]) for name in goes)
    return GiveUp(
        defer=free,
        with_it=[name for name in known.record.order if name in goes and name != task.id] if free else [],
        trim_to_min=task.shortest if not task.required else None,
        break_off_closeout_min=task.closeout if not task.required else None,
        hand_over_to=list(task.can_move_to),
        decide_by_pet_min=decide_by(known.record, known.times, Part("defer", task.id))[0] if free else None,
    )


# The rest ---------------------------------------------------------------------------------------


def _get_ahead(task: Task) -> GetAhead:
    return GetAhead(
        task=task.id, title=task.title, lanes=list(task.lanes), likely_min=task.likely_min, worksite=task.worksite,
        notes=task.notes,
    )  # fmt: skip


def _check(one: Check, end: float) -> BriefCheck:
    due = [one.every * number for number in range(1, int(end // one.every) + 1)]
    return BriefCheck(check=one.id, title=one.title, every_min=one.every, lanes=list(one.lanes), due_pet_min=due)


def _contingency(plan: Plan, one: Contingency) -> BriefContingency:
    return BriefContingency(
        contingency=one.id,
        title=one.title,
        trigger=one.trigger,
        hold=list(one.hold),
        steps=[
            ContingencyStep(
                task=task.id, title=task.title, lanes=list(task.lanes), low_min=task.duration.low,
                likely_min=task.duration.likely, high_min=task.duration.high, worksite=task.worksite, notes=task.notes,
                comes_after=_before(task),
            )
            for task in one.tasks
        ],
        comes_in_at=_comes_in_at(plan, one),
    )  # fmt: skip


def _comes_in_at(plan: Plan, one: Contingency) -> list[str]:
    """The tasks at which a contingency could come in; empty: it may come in at any time."""
    if one.hold:
        return list(one.hold)
    lanes = {lane for task in one.tasks for lane in task.lanes}
    sites = {task.worksite for task in one.tasks} - {None}
    return [
        task.id for task in plan.tasks
        if task.start is not None and task.worksite in sites and lanes & set(task.lanes)
    ]


def _ending(known: _Known, one: Alternative) -> Ending:
    """The alternative, decided at the latest when a task begins that one of the options leaves out."""
    other = [Part("choose", one.id, option) for option in one.options if option != one.default]
    timed = [decide_by(known.record, known.times, part) for part in other]
    at, why = min((found for found in timed if found[0] is not None), default=(None, ""), key=lambda found: found[0] or 0.0)
    return Ending(
        alternative=one.id, title=one.title, default=one.default,
        options={option: list(names) for option, names in one.options.items()},
        decide_by_pet_min=at, decide_by=why,
    )  # fmt: skip


def _decisions(known: _Known, steps: list[BriefStep], endings: list[Ending]) -> Iterator[Decision]:
    for ending in endings:
        if ending.decide_by_pet_min is not None:
            yield Decision(by_pet_min=ending.decide_by_pet_min, kind="ending", name=ending.alternative, detail=ending.decide_by)
    for step in steps:
        for window in step.windows:
            if window.start_by_pet_min is not None and step.is_default:
                yield Decision(
                    by_pet_min=window.start_by_pet_min, kind="window", name=step.task, detail=window.kind,
                    next_pet_min=window.next_from_pet_min,
                )  # fmt: skip
        if step.give_up.decide_by_pet_min is not None and step.priority > 1:
            yield Decision(by_pet_min=step.give_up.decide_by_pet_min, kind="give up", name=step.task)
    for name, way in known.state.worksites.items():
        if way.leave_by_pet_min is not None:
            yield Decision(by_pet_min=way.leave_by_pet_min, kind="leave by", name=name, detail=way.leave_by_set_by or "")
    turns: dict[tuple[float, str], list[str]] = {}
    for lane, at in known.state.lanes.items():
        if at.turn_back_pet_min is not None:
            turns.setdefault((at.turn_back_pet_min, at.turn_back_set_by or ""), []).append(lane)
    for (pet_min, why), lanes in turns.items():
        yield Decision(by_pet_min=pet_min, kind="turn back", name=" ".join(lanes), detail=why)
