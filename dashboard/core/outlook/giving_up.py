"""What the room could give up, and when: priority classes that cannot be given up in time, and close-outs.

A task can be given up when no rule of the plan forbids it and nothing of a higher class goes along. It can be given up in time
when it begins at least the plan's `lead` after the room knows better than the brief: when as much work of the crew is finished as
a call needs (`deferral/call.py`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from dashboard.core.base.minutes import length
from dashboard.core.deferral.call import enough_is_finished
from dashboard.core.deferral.change import closed
from dashboard.core.deferral.rules import rules_broken
from dashboard.core.events.change import Change
from dashboard.core.outlook.briefed import Briefed, found, named, pet
from dashboard.core.plan.fields import Finding
from dashboard.core.plan.model import Task

MOST_TRIED = 100  # tasks of one class, those that begin last
LONG_MIN = 45.0


def check_classes(briefed: Briefed) -> Iterator[Finding]:
    """Check that something of each priority class can be given up in time. The highest is checked only if it is the only one.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Yields
    ------
    Finding
        A caution for a class of which nothing can be given up, or nothing in time; one for the whole plan when nothing in it can.
    """
    classes: dict[int, list[Task]] = {}
    work = [task for task in briefed.ordinary if task.id in briefed.projection.slots and task.leg is None]
    for task in work:
        if task.id not in briefed.way_home:
            classes.setdefault(task.priority, []).append(task)
    if work and not classes:
        yield _nothing_can_go(briefed, work)
    known = knows_better_pet_min(briefed)
    lowest = min(classes, default=0)
    for priority, tasks in sorted(classes.items()):
        if priority == lowest and len(classes) > 1:
            continue
        yield from _class(briefed, priority, tasks, known)


def knows_better_pet_min(briefed: Briefed) -> float:
    """PET at which the room knows better than the brief, in a sortie that goes as planned.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Returns
    -------
    float
        Minutes; the end at plan pace when too few tasks are briefed for that.
    """
    slots = briefed.projection.slots
    in_order = sorted(slots, key=lambda task_id: slots[task_id].finish_pet_min)
    for i, task_id in enumerate(in_order):
        if enough_is_finished(briefed.plan, in_order[: i + 1]):
            return slots[task_id].finish_pet_min
    return briefed.projection.end_pet_min or 0.0


def _nothing_can_go(briefed: Briefed, work: Sequence[Task]) -> Finding:
    required = sum(task.required for task in work)
    return found(
        "class-locked", "caution", briefed.place(work[0].id, "required"), "the plan",
        "work that can be given up", f"none: its tasks ({len(work)}, of them {required} required) all belong to the way home",
        "Take 'required' out of what is not needed for the way home.",
        "When time or a suit runs short, nothing is left to give up.",
    )


def _class(briefed: Briefed, priority: int, tasks: Sequence[Task], known_pet_min: float) -> Iterator[Finding]:
    slots = briefed.projection.slots
    last_first = sorted(tasks, key=lambda task: -slots[task.id].start_pet_min)[:MOST_TRIED]
    givable = next((task for task in last_first if _goes_alone(briefed, task)), None)
    subject, lead = f"priority {priority}", briefed.plan.sortie.lead
    if givable is None:
        tried = "" if len(tasks) <= MOST_TRIED else f" of the {MOST_TRIED} that begin last (the others were not tried)"
        yield found(
            "class-locked", "caution", briefed.place(last_first[0].id, "priority"), subject,
            "a task that can be given up without one of a higher class", f"none{tried}, of {len(tasks)}",
            "Take 'required' out where it is not meant, or loosen 'after', 'together' and 'obliges'.",
        )
        return
    start = slots[givable.id].start_pet_min
    if start - lead < known_pet_min:
        yield found(
            "class-too-early", "caution", briefed.place(givable.id, "start"), subject,
            f"a task that can still be given up {length(lead)} ('lead') after the room knows better than the brief, "
            f"{pet(known_pet_min)}",
            f"the last that can be given up, {named(givable)}, begins at {pet(start)}",
            "Brief work of this class later, or give a lower priority to work that comes later.",
        )


def _goes_alone(briefed: Briefed, task: Task) -> bool:
    """Whether a task can be given up, or trimmed, without anything of a higher class."""
    record = briefed.record
    if task.required:
        return False
    if task.shortest is not None and task.shortest < task.likely_min:
        return True
    change = closed(record, Change(defer=(task.id,)))
    along = (record.runs[t].task for t in change.defer)
    return all(one.leg is not None or one.priority >= task.priority for one in along) and not rules_broken(record, change)


def check_close_outs(briefed: Briefed) -> Iterator[Finding]:
    """Whether work that is begun can be stopped at a cost that is worth it.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Yields
    ------
    Finding
        A caution for a close-out as long as the task; one note for long tasks that cannot be stopped once they are begun.
    """
    crew = set(briefed.plan.crew_lane_ids())
    for task in briefed.ordinary:
        if task.closeout is not None and task.closeout >= task.likely_min > 0:
            yield found(
                "close-out-too-long", "caution", briefed.place(task.id, "closeout"), f"{named(task)}, key 'closeout'",
                f"less than the task itself, {length(task.likely_min)}", length(task.closeout),
                "Correct the close-out, or leave it out: the task is then finished once it is begun.",
            )
    stuck = [
        task for task in briefed.ordinary
        if task.likely_min >= LONG_MIN and task.closeout is None and task.shortest is None and not task.required
        and task.leg is None and crew & set(task.lanes)
    ]
    if stuck:
        longest = max(stuck, key=lambda task: task.likely_min)
        yield found(
            "cannot-be-stopped", "note", briefed.place(longest.id, "closeout"), named(longest),
            f"a close-out, or a shortest useful length, for work of {length(LONG_MIN)} and more",
            f"neither for {len(stuck)} of them; this one takes {length(longest.likely_min)}",
            "Give 'closeout' (minutes to leave it safe) or 'shortest' where it can be stopped.",
        )
