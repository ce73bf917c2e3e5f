"""Whether a change can still be made: the one rule, asked of a record or of a state.

- What is deferred or handed over has not begun and is in the plan of record; so has what gets a new place in the order.
- What is trimmed is not over, and has not yet worked for longer than its new length.
- What is extended is not over.
- What is broken off is in hand.
- An alternative of which an option is taken is not decided.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import NamedTuple

from dashboard.core.events.change import Change, Part
from dashboard.core.record.lifecycle import IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record


class TaskNow(NamedTuple):
    """What the rule needs to know of a task: its state, whether it is in the plan of record, and minutes worked so far."""

    state: str
    in_plan: bool
    worked_min: float


def is_open(change: Change, task: Callable[[str], TaskNow | None], decided: Collection[str]) -> bool:
    """Whether every part of a change can still be made.

    Parameters
    ----------
    change : Change
    task : callable
        A task as it is now, by its id; None: there is no such task.
    decided : collection of str
        Alternatives of which an option was taken.

    Returns
    -------
    bool
        True for an empty change.
    """
    return all(_part_is_open(part, task, decided) for part in change.parts()) and all(
        (now := task(name)) is not None and now.state == NOT_STARTED for name in change.order
    )


def _part_is_open(part: Part, task: Callable[[str], TaskNow | None], decided: Collection[str]) -> bool:
    """Whether one part of a change can still be made; for the parameters see `is_open`."""
    if part.kind == "choose":
        return part.name not in decided
    now = task(part.name)
    if now is None:
        return False
    if part.kind in ("defer", "move"):
        return now.state == NOT_STARTED and now.in_plan
    if part.kind == "break_off":
        return now.state in (IN_WORK, ON_HOLD)
    left = part.kind == "extend" or (isinstance(part.to, float | int) and now.worked_min <= part.to)
    return now.state in (NOT_STARTED, IN_WORK, ON_HOLD) and left


def is_open_in(record: Record, change: Change) -> bool:
    """Whether every part of a change can still be made at the instant of a record.

    Parameters
    ----------
    record
        As it is now.
    change
        What would be recorded.

    Returns
    -------
    bool
        True for an empty change.
    """
    def task(name: str) -> TaskNow | None:
        run = record.runs.get(name)
        return None if run is None else TaskNow(run.state, record.in_plan(name), run.worked_min(record.pet_min))

    return is_open(change, task, record.chosen)
