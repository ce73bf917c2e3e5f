"""The figures of any set of changes: end, margins, probability, cost, and the rules it breaks."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np

from dashboard.core.base.minutes import length
from dashboard.core.deferral.change import Change, closed, value_lost, with_change
from dashboard.core.deferral.draws import Draws
from dashboard.core.deferral.options import left_open, not_done
from dashboard.core.record.lifecycle import DEFERRED, NOT_STARTED
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import DRAWS, SEED, Expected, expect
from dashboard.core.schedule.float_or_array import Array
from dashboard.core.schedule.pace import Pace
from dashboard.core.schedule.plan_pace import Projection, project
from dashboard.core.suits.budget import Budget, budgets, limit_draws

# The quick look takes each task at the pace of its time in the projection of the record as it is. What is given up moves
# what follows to earlier times, where a passing shift of pace weighs a little more: it must not refuse what just holds.
QUICK_LOOK_GIVES = 0.02
TINY_MIN = 1e-6


@dataclass(frozen=True)
class Figures:
    """What a change brings. PET minutes; `in_by_limit` None when not drawn.

    `leaves_open` is alternative -> words, where no option is done whole.
    """

    change: Change
    end_pet_min: float | None
    p50_pet_min: float | None
    p90_pet_min: float | None
    in_by_limit: float | None
    short_by_min: float
    margins_min: Mapping[str, float]
    limiting: Mapping[str, str]
    value_lost: Mapping[int, float]
    decide_by_pet_min: float | None
    decide_by: str
    broken_rules: list[str]
    leaves_open: Mapping[str, str]


def figures_of(
    record: Record, before: Projection, change: Change, *, confidence: float, draws: int = DRAWS,
    asked: Collection[str] = (),
) -> Figures:
    """Figures of a change, projected and drawn like any state.

    Parameters
    ----------
    record : Record
        As it is.
    before : Projection
        Of the record as it is: gives the decide-by time.
    confidence : float
        `short_by_min` is how many minutes are missing for this probability of being in (0 when it is reached). With
        no draws it is measured on the plan-pace end.
    draws : int
        0: plan pace only.
    asked : collection of str
        Tasks that a person asked to give up; of the rules only the plan's own bind these.
    """
    change = closed(record, change)
    changed = with_change(record, change)
    projection = project(changed)
    budget = budgets(changed, projection)
    limit = record.plan.sortie.limit_less_reserve_pet_min
    expected = expect(changed, projection, draws=draws) if draws else None
    in_by, short = _chance(changed, projection, budget, expected, limit, confidence)
    margins, limiting = _margins(budget)
    at, word = decide_by(record, before, change)
    return Figures(
        change=change,
        end_pet_min=projection.end_pet_min,
        p50_pet_min=float(np.percentile(expected.end, 50)) if expected else None,
        p90_pet_min=float(np.percentile(expected.end, 90)) if expected else None,
        in_by_limit=in_by,
        short_by_min=short,
        margins_min=margins,
        limiting=limiting,
        value_lost=value_lost(record, change),
        decide_by_pet_min=at,
        decide_by=word,
        broken_rules=broken_rules(record, change, asked),
        leaves_open=left_open(record, change),
    )


class Test:
    """Whether a change of one record reaches the confidence, by draws.

    Parameters
    ----------
    before : Projection
        Of the record as it is.
    """

    def __init__(self, record: Record, before: Projection, confidence: float, draws: int, pace: Pace) -> None:
        self.record, self.before, self.confidence = record, before, confidence
        self.draws, self.pace = draws, pace
        self.limit = record.plan.sortie.limit_less_reserve_pet_min
        self.kept = Draws.of(record, before, draws, pace, before.slots)

    def passes(self, change: Change) -> bool:
        """Whether it reaches the confidence and pushes no task past its windows.

        The change must name all that goes along. Most that fail do so by the limit alone, so that is looked at first.
        """
        if self.kept is not None and not change.order and self._late(self.kept.end(change)):
            return False
        return self.fits(with_change(self.record, change))

    def late(self, change: Change) -> bool:
        """True: it fails by the limit alone."""
        return self.kept is not None and self._late(self.kept.end(change))

    def hopeless(self, change: Change) -> bool:
        """True: it fails by the limit alone, whatever else is handed over."""
        return self.kept is not None and self._late(self.kept.end(change, floating=True))

    def _late(self, end: Array | None) -> bool:
        return end is not None and float((end <= self.limit).mean()) < self.confidence - QUICK_LOOK_GIVES

    def fits(self, changed: Record) -> bool:
        """The same of a record that was changed."""
        projection = project(changed)
        if any(slot.window_missed and not self._missed(task_id) for task_id, slot in projection.slots.items()):
            return False
        budget = budgets(changed, projection)
        expected = expect(changed, projection, draws=self.draws, pace=self.pace) if self.draws else None
        if expected is None:
            return short_at_plan_pace_min(projection, budget, self.limit) <= TINY_MIN
        return float((_over(changed, budget, expected, self.limit) <= 0).mean()) >= self.confidence

    def _missed(self, task_id: str) -> bool:
        slot = self.before.slots.get(task_id)
        return slot is not None and bool(slot.window_missed)


def short_at_plan_pace_min(
    projection: Projection, budget: Mapping[tuple[str, str], Budget], limit_pet_min: float
) -> float:
    """Minutes by which the plan-pace end is past the limit or past the first reserve; 0 when it is not."""
    suits = min((one.reserve_reached_pet_min for one in budget.values()), default=limit_pet_min)
    return max(0.0, (projection.end_pet_min or 0.0) - min(limit_pet_min, suits))


def _over(record: Record, budget: Mapping[tuple[str, str], Budget], expected: Expected, limit: float) -> Array:
    """Minutes past the limit or the first reserve, a draw."""
    limits: Array = np.full(len(expected.end), limit)
    drawn = limit_draws(budget, max(0.0, record.pet_min), SEED, len(expected.end))
    if drawn is not None:
        limits = np.minimum(limits, drawn)
    over: Array = expected.end - limits
    return over


def _chance(
    record: Record, projection: Projection, budget: Mapping[tuple[str, str], Budget], expected: Expected | None,
    limit: float, confidence: float,
) -> tuple[float | None, float]:
    if expected is None:
        return None, short_at_plan_pace_min(projection, budget, limit)
    over = _over(record, budget, expected, limit)
    in_by = float((over <= 0).mean())
    return in_by, 0.0 if in_by >= confidence else max(0.0, float(np.quantile(over, confidence)))


def _margins(budget: Mapping[tuple[str, str], Budget]) -> tuple[dict[str, float], dict[str, str]]:
    margins: dict[str, float] = {}
    limiting: dict[str, str] = {}
    for (suit, name), one in budget.items():
        if suit not in margins or one.margin_min < margins[suit]:
            margins[suit], limiting[suit] = one.margin_min, name
    return margins, limiting


def decide_by(record: Record, before: Projection, change: Change) -> tuple[float | None, str]:
    """PET after which the change is no longer open, and why then.

    That is the earliest projected start of anything it gives up, hands over, or leaves out for the other option. Work
    in hand that is to be trimmed can be trimmed until it has reached its new length; work to be broken off: now.
    None: nothing is given up.
    """
    now = max(0.0, record.pet_min)
    times: list[tuple[float, str]] = []
    for task_id in (*change.given_up(), *change.move, *_left_out(record, change)):
        slot, run = before.slots.get(task_id), record.runs[task_id]
        if slot is None:
            continue
        if run.state == NOT_STARTED:
            times.append((max(now, slot.start_pet_min), f"when {task_id} is projected to begin"))
        elif task_id in change.trim:
            left = max(0.0, change.trim[task_id] - run.worked_min(now))
            times.append((now + left, f"when {task_id} has reached its new length"))
        else:
            times.append((now, f"now: {task_id} is {run.state}"))
    return min(times, default=(None, "no time: it gives nothing up"), key=lambda t: t[0] or 0.0)


def _left_out(record: Record, change: Change) -> list[str]:
    """Tasks of options that are in force now and not with the change."""
    found = []
    for alternative in record.plan.alternatives:
        in_force = record.chosen.get(alternative.id, alternative.default)
        taken = alternative.options[change.choose.get(alternative.id, in_force)]
        found += [t for t in alternative.options[in_force] if t not in taken]
    return found


def broken_rules(record: Record, change: Change, asked: Collection[str] = ()) -> list[str]:
    """What is not allowed, in words; empty when nothing is broken. `asked`: given up because a person asked."""
    broken = []
    for task_id in change.given_up():
        run = record.runs[task_id]
        if run.task.required:
            broken.append(f"{task_id} is required")
        elif run.origin == "contingency" and task_id not in asked:
            broken.append(f"{task_id} belongs to a contingency that was inserted")
    for task_id, minutes in change.trim.items():
        task = record.runs[task_id].task
        if task.shortest is None:
            broken.append(f"{task_id} may not be trimmed")
        elif minutes < task.shortest - 1e-6:
            broken.append(f"{task_id} is useful from {length(task.shortest, 'up')} up")
    broken += [f"{t} may not be broken off" for t in change.break_off if record.runs[t].task.closeout is None]
    broken += [said for t, n in change.move.items() if (said := _not_to_hand_over(record, t, n))]
    broken += [said for a, option in change.choose.items() for said in _begun_already(record, a, option)]
    with_it = with_change(record, change)
    broken += [
        f"{t} of option '{option}', which is taken for '{a}', would not be done"
        for a, option in change.choose.items() for t in not_done(with_it, {a: option}) if t not in asked
    ]
    return broken


def _not_to_hand_over(record: Record, task_id: str, lane: str) -> str:
    """Why a task may not go to a lane; empty: it may."""
    run = record.runs[task_id]
    if lane not in run.task.can_move_to:
        return f"{task_id} may not go to {lane}"
    if run.state != NOT_STARTED:
        return f"{task_id} is {run.state}, not to be handed over"
    return "" if len(run.lanes) == 1 else f"{task_id} takes {' and '.join(run.lanes)} at once, not to be handed over"


def _begun_already(record: Record, alternative: str, option: str) -> list[str]:
    """What of the other options has begun, so that the option can no longer be taken in their place."""
    options = next(a.options for a in record.plan.alternatives if a.id == alternative)
    others = dict.fromkeys(t for name, tasks in options.items() if name != option for t in tasks)
    return [
        f"{t} is {state}: option '{option}' of '{alternative}' can no longer be taken in its place"
        for t in others if t not in options[option] and (state := record.runs[t].state) not in (NOT_STARTED, DEFERRED)
    ]
