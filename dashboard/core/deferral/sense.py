"""The sense of a plan: which tasks go when others go, and which may no longer go.

Every rule has one form, a `GoesWith`: when all tasks of a set go, one more task goes.

- `after`: a task goes when one that it comes after goes.
- `together`: when one of a group goes, each other one goes.
- `obliges`: when an obliged task goes, the task that obliges it goes. Nothing that is open stays open.
- `serves`: a task goes when the last of those that it serves goes.
- Legs: a leg goes when nothing is left to do at its end; and what lies at its end goes when the leg goes. A leg that is not
  needed since its lanes are there already takes along only what serves it (`change.closed`). Of the other rules only `after`
  makes a leg go; a leg that goes takes along what comes after it and what serves it, and nothing else.

What has begun no longer goes along. So a begun task makes others stay: those that it obliges, and the rest of its group.
The scheduling model, the search and what-if use these rules; `sense_check` judges every proposal without them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from typing import NamedTuple

from dashboard.core.record.legs import work_at_end
from dashboard.core.record.lifecycle import BROKEN_OFF, DONE, IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record


class GoesWith(NamedTuple):
    """One rule: when all tasks of `all_of` go, `goes` goes."""

    goes: str
    all_of: frozenset[str]


def has_begun(record: Record, task_id: str) -> bool:
    """Whether a task is or was in hand.

    Parameters
    ----------
    record
        As it is now.
    task_id
        A task of the record.

    Returns
    -------
    bool
    """
    return record.runs[task_id].state in (IN_WORK, ON_HOLD, DONE, BROKEN_OFF)


def gets_there(record: Record, task_id: str, lane: str) -> bool:
    """Whether a task can be handed to a lane without a leg of its own: a leg brought both lanes to the same worksite.

    Parameters
    ----------
    record
        Its order of work counts.
    task_id
        A task of the record.
    lane
        The lane that would take it.

    Returns
    -------
    bool
        True also when neither lane has a leg before the task.
    """
    before = record.order[: record.order.index(task_id)]
    legs = [t for t in reversed(before) if record.runs[t].task.leg is not None]

    def taken_to(lanes: Collection[str]) -> str | None:
        last = next((t for t in legs if set(lanes) & set(record.runs[t].lanes)), None)
        return None if last is None else record.runs[last].task.leg

    return taken_to(record.runs[task_id].lanes) == taken_to((lane,))


def rules_of_sense(record: Record, remaining: Collection[str]) -> list[GoesWith]:
    """The rules between the tasks that remain.

    Parameters
    ----------
    record : Record
    remaining : collection of str
        Tasks that may go or stay. What is out of the plan of record is gone already. What is done, or may still be pulled in as
        a get-ahead, never goes.

    Returns
    -------
    list of GoesWith
        Both sides name tasks of `remaining` only.
    """
    gone = {
        t for t in record.runs
        if t not in remaining and (not record.in_plan(t) or record.runs[t].state == BROKEN_OFF)
    }
    ways = {t for t, run in record.runs.items() if run.task.leg is not None}
    of_work = (rule for rule in (*_together(record), *_obliges(record)) if not rule.all_of & ways)
    raw = (*_after(record), *_legs(record), *(rule for rule in (*of_work, *_serves(record)) if rule.goes not in ways))
    left = (
        GoesWith(goes, all_of - gone) for goes, all_of in raw
        if goes in remaining and record.runs[goes].state == NOT_STARTED
    )
    return list(dict.fromkeys(rule for rule in left if rule.all_of and rule.all_of <= set(remaining)))


def may_not_go(record: Record) -> frozenset[str]:
    """Tasks that no longer go because of what has begun.

    Parameters
    ----------
    record
        As it is now.

    Returns
    -------
    frozenset of str
        What a begun task obliges, and every task of a group of which one has begun.
    """
    held: set[str] = set()
    for task_id, run in record.runs.items():
        if has_begun(record, task_id):
            held |= set(run.task.obliges) & set(record.runs)
            held |= set(_group(record, task_id))
    return frozenset(held)


def closed_under(rules: Iterable[GoesWith], gone: Collection[str]) -> set[str]:
    """A set of tasks together with all that go along by the rules.

    Parameters
    ----------
    rules
        From `rules_of_sense`.
    gone
        Tasks that go in any case.

    Returns
    -------
    set of str
        At least `gone`.
    """
    rules, found, grew = list(rules), set(gone), True
    while grew:
        more = {rule.goes for rule in rules if rule.goes not in found and rule.all_of <= found}
        found |= more
        grew = bool(more)
    return found


def comes_back_with(rules: Iterable[GoesWith], gone: Collection[str], task_id: str) -> set[str]:
    """The tasks that must stay when one task of a set stays after all.

    Parameters
    ----------
    rules
        From `rules_of_sense`.
    gone
        Tasks that go, closed under the rules.
    task_id
        The task that stays.

    Returns
    -------
    set of str
        The task, and what it needs. Where one of several is enough for a rule, the first by name stays.
    """
    rules, back = list(rules), {task_id}
    while broken := next((r for r in rules if r.goes in back and r.all_of <= set(gone) - back), None):
        back.add(min(broken.all_of))
    return back


def _after(record: Record) -> Iterator[GoesWith]:
    """A task goes when one that it comes after goes."""
    for task_id, run in record.runs.items():
        if run.state == NOT_STARTED and not run.kept:
            yield from (GoesWith(task_id, frozenset((needed,))) for needed in run.task.after)


def _together(record: Record) -> Iterator[GoesWith]:
    """When one of a group goes, each other one goes."""
    for task_id in record.runs:
        yield from (GoesWith(task_id, frozenset((other,))) for other in _group(record, task_id) if other != task_id)


def _obliges(record: Record) -> Iterator[GoesWith]:
    """When an obliged task goes, the task that obliges it goes."""
    for task_id, run in record.runs.items():
        yield from (GoesWith(task_id, frozenset((obliged,))) for obliged in run.task.obliges)


def _serves(record: Record) -> Iterator[GoesWith]:
    """A task that has not begun goes when the last of those that it serves goes."""
    for task_id, run in record.runs.items():
        if run.task.serves and run.state == NOT_STARTED:
            yield GoesWith(task_id, frozenset(run.task.serves))


def _legs(record: Record) -> Iterator[GoesWith]:
    """A leg that has not begun goes when nothing is left at its end, and what lies there goes when the leg goes."""
    for leg, at_end in work_at_end(record).items():
        run, stops = record.runs[leg], [t for t in at_end if not has_begun(record, t)]
        if run.state != NOT_STARTED or not stops:
            continue
        if not run.task.required and not run.kept and len(stops) == len(at_end):
            yield GoesWith(leg, frozenset(stops))
        yield from (GoesWith(stop, frozenset((leg,))) for stop in stops)


def _group(record: Record, task_id: str) -> list[str]:
    """The tasks of the same group, this one among them; get-aheads that have not begun are left out."""
    word = record.runs[task_id].task.together
    return [] if word is None else [
        t for t, run in record.runs.items()
        if run.task.together == word and not (run.task.get_ahead and run.state == NOT_STARTED)
    ]
