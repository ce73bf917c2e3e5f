"""Whether a change makes sense, judged from the plan alone: the same facts as `sense`, told by what stays and what goes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, NamedTuple

from dashboard.core.deferral.sense import has_begun
from dashboard.core.record.legs import work_at_end
from dashboard.core.record.lifecycle import BROKEN_OFF, DEFERRED, NOT_STARTED
from dashboard.core.record.record import Record, legs_not_needed


class NoSense(NamedTuple):
    """One thing that makes no sense: which rule, about which task, and in words."""

    code: Literal["together", "obliged", "serves nothing", "no leg"]
    subject: str
    words: str


def makes_no_sense(before: Record, after: Record) -> list[NoSense]:
    """What makes no sense after a change and did before.

    Parameters
    ----------
    before
        The record without the change.
    after
        The record with it.

    Returns
    -------
    list of NoSense
        Empty when the change causes nothing of the kind.
    """
    known = {(one.code, one.subject) for one in all_that_makes_no_sense(before)}
    return [one for one in all_that_makes_no_sense(after) if (one.code, one.subject) not in known]


def all_that_makes_no_sense(record: Record) -> Iterator[NoSense]:
    """What makes no sense in the plan of record as it is.

    Parameters
    ----------
    record
        As it is now.

    Yields
    ------
    NoSense
        A rule may name the same task more than once.
    """
    of_work = (*_torn_apart(record), *_left_open(record), *_serves_nothing(record))
    yield from (one for one in of_work if record.runs[one.subject].task.leg is None)
    yield from _without_leg(record)


def _stays(record: Record, task_id: str) -> bool:
    """Whether a task is done, in hand, or still to be done; a get-ahead that may still be pulled in counts."""
    return record.runs[task_id].state != BROKEN_OFF and record.in_plan(task_id)


def _is_waiting(record: Record, task_id: str) -> bool:
    run = record.runs[task_id]
    return run.task.get_ahead and run.state == NOT_STARTED


def _gone(record: Record, task_id: str) -> bool:
    """Whether a task was deferred or broken off; a task of an option that is not taken was not."""
    out = record.out_because.get(task_id)
    return record.runs[task_id].state == BROKEN_OFF or (out is not None and out.deferred)


def _torn_apart(record: Record) -> Iterator[NoSense]:
    """Some tasks of a group go and others stay."""
    groups: dict[str, list[str]] = {}
    for task_id, run in record.runs.items():
        if run.task.together is not None:
            groups.setdefault(run.task.together, []).append(task_id)
    for word, group in groups.items():
        holding = [t for t in group if not _is_waiting(record, t) and (has_begun(record, t) or _stays(record, t))]
        for task_id in group if holding else ():
            if _gone(record, task_id):
                other = next((t for t in holding if t != task_id), None)
                words = f"{task_id} goes although " + (f"{other} of " if other else "") + f"the same group '{word}' "
                begun = other is None or has_begun(record, other)
                yield NoSense("together", task_id, words + ("has begun" if begun else "stays"))


def _left_open(record: Record) -> Iterator[NoSense]:
    """A task goes that another one obliges."""
    for task_id, run in record.runs.items():
        counts = has_begun(record, task_id) or (_stays(record, task_id) and not _is_waiting(record, task_id))
        for obliged in run.task.obliges if counts else ():
            if obliged in record.runs and _gone(record, obliged):
                begun = "has begun" if has_begun(record, task_id) else "stays"
                yield NoSense("obliged", obliged, f"{obliged} goes although {task_id}, which obliges it, {begun}")


def _serves_nothing(record: Record) -> Iterator[NoSense]:
    """A task stays although all that it serves goes."""
    for task_id, run in record.runs.items():
        served = [t for t in run.task.serves if t in record.runs]
        to_come = run.state == NOT_STARTED and _stays(record, task_id)
        if to_come and served and not any(_stays(record, t) for t in served):
            yield NoSense("serves nothing", task_id, f"{task_id} stays although all goes that it serves")


def _without_leg(record: Record) -> Iterator[NoSense]:
    """A leg is given up although something is left at its end, and its lanes would not be there already.

    That a leg goes with what is there, or because its lanes are there already, is the record's own rule.
    """
    given_up = [t for t in work_at_end(record) if record.runs[t].state == DEFERRED]
    not_needed = legs_not_needed(record, given_up) if given_up else set()
    for leg, at_end in work_at_end(record).items():
        staying = [t for t in at_end if not has_begun(record, t) and _stays(record, t)]
        if leg in given_up and leg not in not_needed:
            for stop in staying:
                yield NoSense("no leg", stop, f"{stop} stays although {leg}, the leg to it, is given up")
