"""Whether a change makes sense, judged from the plan alone: the same facts as `sense`, told by what stays and what goes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, NamedTuple

from dashboard.core.deferral.sense import has_begun
from dashboard.core.record.legs import work_at_end
from dashboard.core.record.lifecycle import BROKEN_OFF, DEFERRED, NOT_STARTED
from dashboard.core.record.record import Record


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
    known = {(one.code, one.subject) for one in _all(before)}
    return [one for one in _all(after) if (one.code, one.subject) not in known]


def _all(record: Record) -> Iterator[NoSense]:
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
    for task_id, run in record.runs.items():
        if run.task.together is None or not _gone(record, task_id):
            continue
        for other, its in record.runs.items():
            same = its.task.together == run.task.together and not _is_waiting(record, other)
            if same and (has_begun(record, other) or (other != task_id and _stays(record, other))):
                words = f"{task_id} goes although {other} of the same group '{run.task.together}' "
                yield NoSense("together", task_id, words + ("has begun" if has_begun(record, other) else "stays"))
                break


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
    """A leg is given up although something is left at its end. That a leg goes with what is there is the record's own rule."""
    for leg, at_end in work_at_end(record).items():
        staying = [t for t in at_end if not has_begun(record, t) and _stays(record, t)]
        if record.runs[leg].state == DEFERRED:
            for stop in staying:
                yield NoSense("no leg", stop, f"{stop} stays although {leg}, the leg to it, is given up")
