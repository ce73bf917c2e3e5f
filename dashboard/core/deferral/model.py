"""The scheduling model, built on OR-Tools CP-SAT: each constraint is one short function."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from dashboard.core.deferral.items import Deferral, RemainingTask
from dashboard.core.events.change import Change

if TYPE_CHECKING:  # the solver is loaded when a model is made: a server has another process make them
    from ortools.sat.python import cp_model

VALUE_SCALE = 1_000_000
SUPPLY_SCALE = 10**15  # what one suit uses over the whole horizon at its greatest rate, in whole numbers


@dataclass
class Variables:
    """The decision variables of one item."""

    item: RemainingTask
    kept: Any  # literal: done (whole or trimmed); for work in hand, not broken off
    start: Any  # of the close-out, when it is broken off
    length: Any
    end: Any
    lanes: dict[str, Any]  # lane -> literal: occupies it
    trimmed: Any = None  # literal, where it may be trimmed
    cut: Any = None  # seconds cut off by a trim
    moved: Any = None


@dataclass
class Built:
    """A model with its variables and objectives."""

    model: cp_model.CpModel
    by_id: dict[str, Variables]
    end: Any
    losses: dict[int, Any]
    changes: Any
    horizon_s: int


def build(problem: Deferral, *, resequence: bool = False, limit: bool = True) -> Built:
    """The model of a problem.

    Parameters
    ----------
    problem : Deferral
    resequence : bool
        The order in the lanes is free.
    limit : bool
        False: limit and suits do not bind; used to find the earliest way in.

    Returns
    -------
    Built
        Times of its variables are in the unit of the problem.
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    horizon = _horizon(problem)
    by_id = {item.id: _variables(model, problem, item, horizon) for item in problem.items}
    end = model.new_int_var(problem.latest_done_s, horizon, "end")
    _goes_along(model, problem, by_id)
    _waits_for_what_it_follows(model, by_id, problem.now_s)
    _waits_for_close_outs(model, by_id)
    _legs_take_what_the_way_takes(model, by_id)
    _lies_inside_its_windows(model, by_id)
    if resequence:
        _one_task_at_a_time(model, problem, by_id)
        _the_way_home_comes_last(model, by_id)
        _legs_keep_their_place(model, by_id)
    else:
        _lanes_keep_their_order(model, problem, by_id, horizon)
    _end_is_the_last_of_the_crew(model, problem, by_id, end)
    _work_of_a_lane_fits(model, problem, by_id, end)
    if limit:
        model.add(end <= problem.limit_s)
        _suits_last(model, problem, by_id, end, horizon)
    return Built(model, by_id, end, _losses(by_id), _changes(by_id), horizon)


def _horizon(problem: Deferral) -> int:
    latest = max([problem.now_s, problem.latest_done_s, *(i.from_s for i in problem.items)], default=0)
    latest = max([latest, *problem.lane_free_s.values()])
    windows = max((to for i in problem.items for kind in i.windows for _, to in kind), default=0)
    lags = sum(lag for i in problem.items for _, lag in i.waits)
    work = sum(max(_longest(i), i.closeout_s or 0) for i in problem.items)
    return max(latest, windows) + work + lags + 1


def _variables(model: cp_model.CpModel, problem: Deferral, item: RemainingTask, horizon: int) -> Variables:
    """Variables of one item: kept or not, start, length between shortest and whole, and lane."""
    givable = item.may_defer or item.closeout_s is not None
    kept = model.new_bool_var(f"kept {item.id}") if givable else model.new_constant(1)
    begun = item.in_work or item.closeout_s is not None
    first = problem.now_s if begun else item.from_s
    start = model.new_int_var(first, first if item.in_work else horizon, f"start {item.id}")
    if begun and not item.in_work:
        model.add(start >= item.from_s).only_enforce_if(kept)
    shortest = min([item.least_s, *(one for _, one in item.without)])
    shortest = shortest if item.closeout_s is None else min(shortest, item.closeout_s)
    longest = max(_longest(item), item.closeout_s or 0)
    length = model.new_int_var(shortest, longest, f"length {item.id}")
    end = model.new_int_var(0, horizon, f"end {item.id}")
    model.add(end == start + length)
    if not item.without:
        model.add(length <= item.length_s).only_enforce_if(kept)
        model.add(length >= item.least_s).only_enforce_if(kept)
    if item.closeout_s is not None:
        model.add(length == item.closeout_s).only_enforce_if(~kept)
        model.add(start == first).only_enforce_if(~kept)
    found = Variables(item, kept, start, length, end, {})
    if item.without:
        pass  # see `_legs_take_what_the_way_takes`
    elif item.least_s < item.length_s:
        found.trimmed = model.new_bool_var(f"trimmed {item.id}")
        model.add(length == item.length_s).only_enforce_if(kept, ~found.trimmed)
        model.add_implication(found.trimmed, kept)
        found.cut = model.new_int_var(0, item.length_s - item.least_s, f"cut {item.id}")
        model.add(found.cut == item.length_s - length).only_enforce_if(found.trimmed)
        model.add(found.cut == 0).only_enforce_if(~found.trimmed)
    elif item.closeout_s is None:
        model.add(length == item.length_s)
    found.lanes = _lanes_of(model, item, found)
    return found


def _lanes_of(model: cp_model.CpModel, item: RemainingTask, found: Variables) -> dict[str, Any]:
    """For each lane, the literal that the item occupies it: its own lanes, or a lane that it is handed to."""
    busy = found.kept if item.closeout_s is None else model.new_constant(1)
    if not item.moves:
        return dict.fromkeys(item.lanes, busy)
    literals = {lane: model.new_bool_var(f"{item.id} in {lane}") for lane in (*item.lanes, *item.moves)}
    model.add(sum(literals.values()) == 1).only_enforce_if(found.kept)
    model.add(sum(literals.values()) == 0).only_enforce_if(~found.kept)
    found.moved = model.new_bool_var(f"moved {item.id}")
    model.add(found.moved == sum(literals[lane] for lane in item.moves))
    return literals


def _goes_along(model: cp_model.CpModel, problem: Deferral, by_id: dict[str, Variables]) -> None:
    """By each rule of sense, a task is kept only if a task is kept with which it goes."""
    for rule in problem.sense:
        model.add_bool_or([~by_id[rule.goes].kept, *(by_id[other].kept for other in sorted(rule.all_of))])


def _waits_for_what_it_follows(model: cp_model.CpModel, by_id: dict[str, Variables], now_s: int) -> None:
    """A task begins after each task that it follows, plus the lag; a task that is broken off is over now."""
    for one in by_id.values():
        for other, lag in one.item.waits:
            model.add(one.start >= by_id[other].end + lag).only_enforce_if(one.kept, by_id[other].kept)
            if by_id[other].item.closeout_s is not None:
                model.add(one.start >= now_s + lag).only_enforce_if(one.kept, ~by_id[other].kept)


def _waits_for_close_outs(model: cp_model.CpModel, by_id: dict[str, Variables]) -> None:
    """Closing out a task that is broken off comes first in its lanes; tasks that have not begun wait for it."""
    for broken in by_id.values():
        if broken.item.closeout_s is None:
            continue
        for one in by_id.values():
            if one is broken or one.item.in_work:
                continue
            for lane in broken.item.lanes:
                if lane in one.lanes:
                    model.add(one.start >= broken.end).only_enforce_if(~broken.kept, one.kept, one.lanes[lane])


def _legs_take_what_the_way_takes(model: cp_model.CpModel, by_id: dict[str, Variables]) -> None:
    """A leg takes as long as the way from where its lanes are, which depends on the legs before it that go."""
    for one in by_id.values():
        earlier = set().union(*(gone for gone, _ in one.item.without))
        for gone, length in one.item.without:
            these = [~by_id[t].kept if t in gone else by_id[t].kept for t in sorted(earlier)]
            model.add(one.length == length).only_enforce_if(*these)


def _longest(item: RemainingTask) -> int:
    return max([item.length_s, *(length for _, length in item.without)])


def _lies_inside_its_windows(model: cp_model.CpModel, by_id: dict[str, Variables]) -> None:
    """A kept task lies wholly inside one window of each kind it needs."""
    for one in by_id.values():
        for k, kind in enumerate(one.item.windows):
            inside = []
            for w, (begin, to) in enumerate(kind):
                literal = model.new_bool_var(f"{one.item.id} in window {k}.{w}")
                model.add(one.start >= begin).only_enforce_if(literal)
                model.add(one.end <= to).only_enforce_if(literal)
                inside.append(literal)
            if one.item.may_miss:
                inside.append(_beyond_the_last(model, one, kind))
            model.add_bool_or([*inside, ~one.kept])


def _beyond_the_last(model: cp_model.CpModel, one: Variables, kind: Sequence[tuple[int, int]]) -> Any:
    """Literal: the item is done after the last window of this kind that could hold it."""
    literal = model.new_bool_var(f"{one.item.id} without a window")
    last = max((to for begin, to in kind if to - begin >= one.item.least_s), default=0)
    model.add(one.end >= last + 1).only_enforce_if(literal)
    return literal


def is_none_of(built: Built, failed: Iterable[Change]) -> None:
    """None of these changes is made again, whatever the lengths of its trims.

    Parameters
    ----------
    built
        The model; the constraints are added to it.
    failed
        Changes that the validator refused.
    """
    for change in failed:
        same = []
        out = (*change.defer, *change.break_off)
        for task_id, one in built.by_id.items():
            if one.item.may_defer or one.item.closeout_s is not None:
                same.append(~one.kept if task_id in out else one.kept)
            if one.trimmed is not None:
                same.append(one.trimmed if task_id in change.trim else ~one.trimmed)
            for lane in one.item.moves:
                taken = change.move.get(task_id) == lane
                same.append(one.lanes[lane] if taken else ~one.lanes[lane])
        built.model.add_bool_or([~literal for literal in same])


def _lanes_keep_their_order(
    model: cp_model.CpModel, problem: Deferral, by_id: dict[str, Variables], horizon: int
) -> None:
    """In each lane the tasks keep the order of the plan of record."""
    lanes = {lane for one in by_id.values() for lane in one.lanes}
    for lane in sorted(lanes):
        free: Any = problem.lane_free_s.get(lane, problem.now_s)
        for one in by_id.values():
            if lane not in one.lanes:
                continue
            busy = one.lanes[lane]
            if not one.item.in_work:
                model.add(one.start >= free).only_enforce_if(busy, one.kept)
            after = model.new_int_var(0, horizon, f"{lane} free after {one.item.id}")
            model.add(after >= free)
            model.add(after >= one.end).only_enforce_if(busy)
            free = after


def _one_task_at_a_time(model: cp_model.CpModel, problem: Deferral, by_id: dict[str, Variables]) -> None:
    """In each lane the tasks do not overlap; work in hand goes first."""
    lanes = {lane for one in by_id.values() for lane in one.lanes}
    for lane in sorted(lanes):
        intervals, in_hand = [], []
        for one in by_id.values():
            if lane not in one.lanes:
                continue
            if one.item.in_work:
                in_hand.append(one)
                continue
            name = f"{one.item.id} in {lane}"
            busy = one.lanes[lane] if one.item.closeout_s is None else one.kept
            intervals.append(model.new_optional_interval_var(one.start, one.length, one.end, busy, name))
            model.add(one.start >= problem.lane_free_s.get(lane, problem.now_s)).only_enforce_if(busy)
        model.add_no_overlap(intervals)
        for first in in_hand:
            for one in by_id.values():
                if lane in one.lanes and not one.item.in_work:
                    model.add(one.start >= first.end).only_enforce_if(one.lanes[lane], one.kept)


def _the_way_home_comes_last(model: cp_model.CpModel, by_id: dict[str, Variables]) -> None:
    """In each lane the way home keeps its order and follows all other work."""
    for lane in sorted({lane for one in by_id.values() for lane in one.lanes}):
        ahead: list[Variables] = [one for one in by_id.values() if lane in one.lanes and not one.item.home]
        for home in (one for one in by_id.values() if lane in one.lanes and one.item.home):
            for one in ahead:
                model.add(home.start >= one.end).only_enforce_if(one.lanes[lane], home.lanes[lane])
            ahead.append(home)


def _legs_keep_their_place(model: cp_model.CpModel, by_id: dict[str, Variables]) -> None:
    """In each lane the work before a leg stays before it, and the work behind it behind: it is done where the leg leads."""
    for lane in sorted({lane for one in by_id.values() for lane in one.lanes}):
        here = [one for one in by_id.values() if lane in one.lanes]
        for i, leg in enumerate(here):
            for one in here if leg.item.leg else ():
                first, then = (one, leg) if here.index(one) < i else (leg, one)
                if one is not leg and not then.item.in_work:
                    model.add(then.start >= first.end).only_enforce_if(
                        first.lanes[lane], then.lanes[lane], first.kept, then.kept
                    )


def _end_is_the_last_of_the_crew(
    model: cp_model.CpModel, problem: Deferral, by_id: dict[str, Variables], end: Any
) -> None:
    """The end is no earlier than the end of any task of the crew."""
    for one in by_id.values():
        for lane, busy in one.lanes.items():
            if lane in problem.crew:
                model.add(end >= one.end).only_enforce_if(busy)
    for lane, free in problem.lane_free_s.items():
        if lane in problem.crew:
            model.add(end >= free)


def _work_of_a_lane_fits(
    model: cp_model.CpModel, problem: Deferral, by_id: dict[str, Variables], end: Any
) -> None:
    """The work of each crew lane fits between now and the end. The other constraints imply it; it makes the solver faster."""
    for lane in sorted(problem.crew):
        here = [one for one in by_id.values() if lane in one.lanes]
        in_hand = [one for one in here if one.item.in_work]
        counted = [one for one in here if not one.item.in_work or len(in_hand) == 1]
        if counted:
            seconds = [_worked(model, one, lane, closing_out=one.item.in_work) for one in counted]
            model.add(problem.now_s + sum(seconds) <= end)


def _suits_last(
    model: cp_model.CpModel, problem: Deferral, by_id: dict[str, Variables], end: Any, horizon: int
) -> None:
    """No suit uses more than it has above its reserve.

    Use is the rate of waiting from now to the end, plus the difference for the time of each task; a close-out counts as
    waiting. Rates are rounded up to whole numbers on a scale of their own per supply. Over the whole horizon that makes far
    less than a thousandth of a second, and this much is added to the supply.
    """
    for supply in problem.supplies:
        here = [one for one in by_id.values() if supply.lane in one.lanes]
        idle = supply.idle_per_h / 3600
        rates = [(supply.rate.base + supply.rate.per_watt * one.item.watts) / 3600 for one in here]
        greatest = max([idle, *rates])
        scale = SUPPLY_SCALE / (horizon * greatest) if greatest > 0 else 1.0
        terms: list[Any] = [_rounded_up(idle * scale) * (end - problem.now_s)]
        for one, rate in zip(here, rates, strict=True):
            if (more := _rounded_up((rate - idle) * scale)) != 0:
                terms.append(more * _worked(model, one, supply.lane, closing_out=False))
        model.add(sum(terms) <= math.floor(supply.usable * scale) + 4 * horizon)


def _rounded_up(number: float) -> int:
    """The next whole number; a number that is whole up to floating-point noise is not raised."""
    return math.ceil(number - 1e-3)


def _worked(model: cp_model.CpModel, one: Variables, lane: str, *, closing_out: bool) -> Any:
    """Seconds of work of the item in the lane; `closing_out`: a close-out counts as work."""
    item, busy = one.item, one.lanes[lane]
    if item.closeout_s is None and item.least_s == item.length_s and not item.without:
        return item.length_s * busy
    if item.closeout_s is not None and not closing_out:
        busy = one.kept
    seconds = model.new_int_var(0, max(_longest(item), item.closeout_s or 0), f"{item.id} works {lane}")
    model.add(seconds == one.length).only_enforce_if(busy)
    model.add(seconds == 0).only_enforce_if(~busy)
    return seconds


def _losses(by_id: dict[str, Variables]) -> dict[int, Any]:
    """Scaled value lost in each priority class, highest class first."""
    terms: dict[int, list[Any]] = {}
    for one in by_id.values():
        item, found = one.item, terms.setdefault(one.item.priority, [])
        if item.may_defer:
            found.append(round(item.value * VALUE_SCALE) * (1 - one.kept))
        per_s = round(item.loss_per_s * VALUE_SCALE)
        if item.closeout_s is not None:
            found.append(round(item.broken_off_loss * VALUE_SCALE) * (1 - one.kept))
        if one.cut is not None and per_s:
            found.append(per_s * one.cut)
    return {priority: sum(found) for priority, found in sorted(terms.items()) if found}


def _changes(by_id: dict[str, Variables]) -> Any:
    """Number of changes: tasks deferred, broken off, trimmed or handed over."""
    terms: list[Any] = []
    for one in by_id.values():
        if one.item.may_defer or one.item.closeout_s is not None:
            terms.append(1 - one.kept)
        terms += [literal for literal in (one.trimmed, one.moved) if literal is not None]
    return sum(terms) if terms else 0


def keeps_one_of(built: Built, task_ids: Iterable[str]) -> None:
    """At least one of these tasks is done whole.

    Parameters
    ----------
    built
        The model; the constraint is added to it.
    task_ids
        Tasks that do not remain are ignored. Without a remaining task nothing is required.
    """
    whole = []
    for task_id in task_ids:
        one = built.by_id.get(task_id)
        if one is None:
            continue
        literal = built.model.new_bool_var(f"{task_id} done whole")
        built.model.add_implication(literal, one.kept)
        if one.trimmed is not None:
            built.model.add_implication(literal, ~one.trimmed)
        whole.append(literal)
    if whole:
        built.model.add_bool_or(whole)
