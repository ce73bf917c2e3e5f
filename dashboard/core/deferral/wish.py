"""User constraints of one request for advice, and the errors in them."""

from __future__ import annotations

from dataclasses import dataclass

from dashboard.core.base.problems import InputError, Problem, did_you_mean
from dashboard.core.deferral.change import closed, with_change
from dashboard.core.deferral.sense_check import makes_no_sense
from dashboard.core.events.change import Change
from dashboard.core.record.lifecycle import IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record, TaskRun


@dataclass(frozen=True)
class Wish:
    """User constraints of one request for advice.

    Parameters
    ----------
    keep : frozenset of str
        Tasks that are to be done whole.
    give_up : frozenset of str
        Tasks that are to be given up.
    resequence : bool
        The order in the lanes is free.
    """

    keep: frozenset[str] = frozenset()
    give_up: frozenset[str] = frozenset()
    resequence: bool = False


def asked_change(record: Record, wish: Wish) -> Change:
    """The change that gives up what the user asked to give up.

    Parameters
    ----------
    record
        As it is now.
    wish
        What the user asked for.

    Returns
    -------
    Change
        Tasks that have not started are deferred, and work in hand is broken off.

    Raises
    ------
    InputError
        For an unknown task, a task both kept and given up, one that is over or out of the plan of record, a required
        task given up (or one that a required or kept task comes after), work in hand that may not be broken off, or a set that
        makes no sense even with all that goes along.
    """
    problems = [*_unknown(record, wish), *_contradictory(wish)]
    if not problems:
        problems = [p for t in sorted(wish.give_up) if (p := _not_to_give(record, record.runs[t])) is not None]
        problems += [p for t in sorted(wish.keep) if (p := _not_to_keep(record, record.runs[t])) is not None]
    if not problems:
        problems = [*_needed_by_what_stays(record, wish)]
    if problems:
        raise InputError(problems)
    begun = [t for t in sorted(wish.give_up) if record.runs[t].state in (IN_WORK, ON_HOLD)]
    change = Change(defer=tuple(t for t in sorted(wish.give_up) if t not in begun), break_off=tuple(begun))
    if problems := _without_sense(record, change, wish.keep):
        raise InputError(problems)
    return change


def _without_sense(record: Record, change: Change, keep: frozenset[str]) -> list[Problem]:
    """Problems with a change that makes no sense even with all that goes along, or that takes along what must stay."""
    whole = closed(record, change) if change.given_up() else change
    subject, expected, cure = f"giving up {', '.join(change.given_up())}", "a set of tasks that makes sense", "Leave it out."
    stay = [t for t in whole.defer if t not in change.defer and (t in keep or record.runs[t].task.required)]
    return [
        *(Problem(subject, expected, one.words, cure) for one in makes_no_sense(record, with_change(record, whole))),
        *(Problem(subject, expected, f"{t} would go along, and it is to stay", cure) for t in stay),
    ]


def _unknown(record: Record, wish: Wish) -> list[Problem]:
    return [
        Problem("advice", "the name of a task of the plan of record", f"'{name}'", did_you_mean(name, record.runs))
        for name in sorted(wish.keep | wish.give_up)
        if name not in record.runs
    ]


def _contradictory(wish: Wish) -> list[Problem]:
    return [
        Problem(f"advice on {name}", "to keep it or to give it up", "both", "Name it once.")
        for name in sorted(wish.keep & wish.give_up)
    ]


def _not_to_give(record: Record, run: TaskRun) -> Problem | None:
    subject, name = f"giving up {run.task.id}", run.task.id
    if run.task.required:
        return Problem(subject, "a task that may be given up", f"{name} is required", "Leave it out.")
    if run.state not in (NOT_STARTED, IN_WORK, ON_HOLD):
        return Problem(subject, "a task that remains", f"{name} is {run.state}", "Leave it out.")
    if not record.in_plan(name):
        out = f"{name} is out of it ({_why_out(record, name)})"
        return Problem(subject, "a task of the plan of record", out, "Leave it out.")
    if run.state != NOT_STARTED and run.task.closeout is None:
        return Problem(subject, "work in hand that may be broken off", f"{name} has no close-out", "Leave it out.")
    return None


def _not_to_keep(record: Record, run: TaskRun) -> Problem | None:
    subject, name = f"keeping {run.task.id}", run.task.id
    if run.state not in (NOT_STARTED, IN_WORK, ON_HOLD):
        return Problem(subject, "a task that remains", f"{name} is {run.state}", "Leave it out.")
    if record.in_plan(name) or _may_come_in(record, name):
        return None
    cure = "Reinstate it first, or leave it out."
    return Problem(subject, "a task of the plan of record", f"{name} is out of it ({_why_out(record, name)})", cure)


def _may_come_in(record: Record, task_id: str) -> bool:
    """Whether a task belongs to an option of an alternative that is still open."""
    return not record.out_because[task_id].deferred and any(
        task_id in tasks for a in record.plan.alternatives if a.id not in record.chosen for tasks in a.options.values()
    )


def _why_out(record: Record, task_id: str) -> str:
    return record.out_because[task_id].why


def _needed_by_what_stays(record: Record, wish: Wish) -> list[Problem]:
    """Problems with tasks that are required or to be kept, and come `after` a task that is to be given up."""
    gone = set(wish.give_up)
    problems = []
    grew = True
    while grew:
        grew = False
        for task_id, run in record.runs.items():
            needed = next((n for n in run.task.after if n in gone), None)
            if needed is None or task_id in gone or run.state != NOT_STARTED or not record.in_plan(task_id):
                continue
            if run.task.required or task_id in wish.keep:
                stays = "is required" if run.task.required else "is to be kept"
                found = f"{task_id} {stays} and comes after it"
                problems.append(Problem(f"giving up {needed}", "a task that nothing kept needs", found, "Leave it out."))
            gone.add(task_id)
            grew = True
    return problems


def no_option_holds(wish: Wish) -> InputError:
    """The error when the tasks to keep belong to options that cannot be taken together.

    Parameters
    ----------
    wish
        It names the tasks to keep.

    Returns
    -------
    InputError
        For the caller to raise.
    """
    names = ", ".join(sorted(wish.keep))
    return InputError(
        [Problem("advice", "tasks to keep that one choice of the alternatives holds together", names, "Keep fewer.")]
    )
