"""Rules that a change can break, as values: a code to judge by, the task or option it is about, and words to show."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

from dashboard.core.base.minutes import length
from dashboard.core.deferral.alternatives import not_done
from dashboard.core.deferral.change import with_change
from dashboard.core.deferral.sense import gets_there
from dashboard.core.deferral.sense_check import makes_no_sense
from dashboard.core.events.change import Change
from dashboard.core.events.extend import may_be_extended
from dashboard.core.record.lifecycle import DEFERRED, NOT_STARTED
from dashboard.core.record.record import Record

RuleCode = Literal[
    "required", "contingency", "never trimmed", "too short", "never extended", "not longer", "never broken off",
    "not to be handed over", "option begun", "option not whole",
    "together", "obliged", "serves nothing", "no leg",
    "not to be deferred", "not to be cut", "left behind", "window missed", "past the limit", "suit short", "way home",
]

STATE_FORBIDS: frozenset[RuleCode] = frozenset({"not to be deferred", "not to be cut", "never extended"})
"""Rules that the state of a task forbids to break, whoever decides."""


@dataclass(frozen=True)
class BrokenRule:
    """One rule that a change breaks.

    Parameters
    ----------
    code : str
        Which rule.
    subject : str
        The task, option or suit that it is about.
    words : str
        A sentence without a full stop.
    """

    code: RuleCode
    subject: str
    words: str

    def __str__(self) -> str:
        return self.words


def rules_broken(record: Record, change: Change, asked: Collection[str] = ()) -> list[BrokenRule]:
    """Rules of the plan that a change breaks.

    Parameters
    ----------
    record : Record
    change : Change
    asked : collection of str
        Tasks that a person asked to give up: tasks of a contingency among them may go.

    Returns
    -------
    list of BrokenRule
        Empty when it breaks none.
    """
    broken: list[BrokenRule] = []
    for task_id in change.given_up():
        run = record.runs[task_id]
        if run.task.required:
            broken.append(BrokenRule("required", task_id, f"{task_id} is required"))
        elif run.origin == "contingency" and task_id not in asked:
            broken.append(BrokenRule("contingency", task_id, f"{task_id} belongs to a contingency that was inserted"))
    broken += [rule for part in (*change.trim.items(),) if (rule := _trim(record, *part)) is not None]
    broken += [rule for part in (*change.extend.items(),) if (rule := _extend(record, *part)) is not None]
    broken += [
        BrokenRule("never broken off", t, f"{t} may not be broken off")
        for t in change.break_off if record.runs[t].task.closeout is None
    ]
    broken += [rule for part in change.move.items() if (rule := _hand_over(record, *part)) is not None]
    broken += [rule for a, option in change.choose.items() for rule in _begun_already(record, a, option)]
    with_it = with_change(record, change)
    broken += [
        BrokenRule("option not whole", t, f"{t} of option '{option}', which is taken for '{a}', would not be done")
        for a, option in change.choose.items() for t in not_done(with_it, {a: option}) if t not in asked
    ]
    broken += [BrokenRule(one.code, one.subject, one.words) for one in makes_no_sense(record, with_it)]
    return broken


def _trim(record: Record, task_id: str, minutes: float) -> BrokenRule | None:
    task = record.runs[task_id].task
    if task.shortest is None:
        return BrokenRule("never trimmed", task_id, f"{task_id} may not be trimmed")
    if minutes < task.shortest - 1e-6:
        return BrokenRule("too short", task_id, f"{task_id} is useful from {length(task.shortest, 'up')} up")
    return None


def _extend(record: Record, task_id: str, minutes: float) -> BrokenRule | None:
    run = record.runs[task_id]
    if not may_be_extended(run.task):
        return BrokenRule("never extended", task_id, f"{task_id} is neither a boxed stop nor open-ended")
    if minutes <= run.planned_min + 1e-6:
        return BrokenRule("not longer", task_id, f"{task_id} is planned for {length(run.planned_min)} already")
    return None


def _hand_over(record: Record, task_id: str, lane: str) -> BrokenRule | None:
    run = record.runs[task_id]
    words = ""
    if lane not in run.task.can_move_to:
        words = f"{task_id} may not go to {lane}"
    elif run.state != NOT_STARTED:
        words = f"{task_id} is {run.state}, not to be handed over"
    elif not gets_there(record, task_id, lane):
        words = f"{task_id} may not go to {lane}: no leg takes {lane} there"
    elif len(run.lanes) != 1:
        words = f"{task_id} takes {' and '.join(run.lanes)} at once, not to be handed over"
    return BrokenRule("not to be handed over", task_id, words) if words else None


def _begun_already(record: Record, alternative: str, option: str) -> list[BrokenRule]:
    """Tasks of the other options that have begun: the option can no longer be taken instead."""
    options = next(a.options for a in record.plan.alternatives if a.id == alternative)
    others = dict.fromkeys(t for name, tasks in options.items() if name != option for t in tasks)
    return [
        BrokenRule(
            "option begun", t, f"{t} is {state}: option '{option}' of '{alternative}' can no longer be taken in its place"
        )
        for t in others if t not in options[option] and (state := record.runs[t].state) not in (NOT_STARTED, DEFERRED)
    ]
