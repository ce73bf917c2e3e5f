"""By when each part of a change must be decided, and which part must be decided now.

- What has not begun can be given up or handed over until it is projected to begin.
- Work in hand can be trimmed until it has reached its new length, and must be broken off now.
- A task can be extended until it is projected to end.
- An option can be taken until a task begins that it leaves out.

Projected times are medians of the expected projection where it is known, else those at plan pace. What must be decided within
the plan's `lead` minutes is decided now, with all that goes along with it; so is what begins within them once that is given up.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np

from dashboard.core.deferral.change import closed, with_change
from dashboard.core.events.change import Change, Part
from dashboard.core.record.lifecycle import NOT_STARTED
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import Expected, expect
from dashboard.core.schedule.plan_pace import Projection, project

NO_TIME = "no time: it gives nothing up"


class PartInTime(NamedTuple):
    """One part of a change, and by when it must be decided.

    Parameters
    ----------
    part : Part
    decide_by_pet_min : float or None
        None: nothing is projected that would close it.
    why : str
        Why then, in words; empty when there is no such time.
    now : bool
        It must be decided within the lead time of the plan, or goes along with what must.
    """

    part: Part
    decide_by_pet_min: float | None
    why: str
    now: bool


class Times:
    """Projected starts and finishes of what remains of a record, without any change.

    Parameters
    ----------
    before : Projection
        At plan pace.
    expected : Expected, optional
        Its draws; None: plan pace only.
    """

    def __init__(self, before: Projection, expected: Expected | None) -> None:
        self._before, self.expected = before, expected
        self._row = {task_id: i for i, task_id in enumerate(expected.tasks)} if expected else {}

    def start(self, task_id: str) -> float | None:
        """Projected start.

        Parameters
        ----------
        task_id
            A task of the record.

        Returns
        -------
        float or None
            PET minutes; None when nothing of the task remains.
        """
        slot = self._before.slots.get(task_id)
        if self.expected is None or task_id not in self._row:
            return None if slot is None else slot.start_pet_min
        return float(np.median(self.expected.starts[self._row[task_id]]))

    def finish(self, task_id: str) -> float | None:
        """Projected finish.

        Parameters
        ----------
        task_id
            A task of the record.

        Returns
        -------
        float or None
            PET minutes; None when nothing of the task remains.
        """
        slot = self._before.slots.get(task_id)
        if self.expected is None or task_id not in self._row:
            return None if slot is None else slot.finish_pet_min
        return float(np.median(self.expected.finishes[self._row[task_id]]))

    def after(self, record: Record, change: Change) -> Times:
        """The times with a change: what comes after what is given up begins sooner.

        Parameters
        ----------
        record
            That these times are of.
        change
            With every task that goes along.

        Returns
        -------
        Times
            Of as many draws.
        """
        changed = with_change(record, change)
        projection = project(changed)
        draws = 0 if self.expected is None else len(self.expected.end)
        return Times(projection, expect(changed, projection, draws=draws) if draws else None)


def parts_in_time(record: Record, times: Times, change: Change) -> list[PartInTime]:
    """Every part of a change with the time by which it must be decided.

    Parameters
    ----------
    record : Record
        Without the change.
    times : Times
        Of the record without the change.
    change : Change
        With every task that goes along (see `change.closed`).

    Returns
    -------
    list of PartInTime
        In the order of `Change.parts`.
    """
    by = [decide_by(record, times, part) for part in change.parts()]
    until = max(0.0, record.pet_min) + record.plan.sortie.lead

    def is_due(part: Part, then: Times) -> bool:
        at, _ = decide_by(record, then, part)
        return at is not None and at <= until

    due = [part for part in change.parts() if is_due(part, times)]
    now = _with_what_goes_along(record, change, due)
    while due and len(now) < len(change.parts()):
        sooner = times.after(record, part_of(change, now))
        due = [part for part in change.parts() if part not in now and is_due(part, sooner)]
        now = _with_what_goes_along(record, change, [*now, *due])
    return [PartInTime(part, at, why, part in now) for part, (at, why) in zip(change.parts(), by, strict=True)]


def _with_what_goes_along(record: Record, change: Change, parts: Iterable[Part]) -> list[Part]:
    """These parts of a change, and the tasks that it defers along with them."""
    some = list(parts)
    along = set(closed(record, part_of(change, some)).defer) if some else set()
    return [part for part in change.parts() if part in some or (part.kind == "defer" and part.name in along)]


def part_for_now(change: Change, parts: Sequence[PartInTime]) -> Change:
    """What of a change must be decided now.

    Parameters
    ----------
    change
        The whole change.
    parts
        From `parts_in_time`.

    Returns
    -------
    Change
        Empty when all of it can wait.
    """
    return part_of(change, [one.part for one in parts if one.now])


def first_decide_by(parts: Iterable[PartInTime]) -> tuple[float | None, str]:
    """The decide-by time of a change: the earliest of its parts.

    Parameters
    ----------
    parts
        From `parts_in_time`.

    Returns
    -------
    (float or None, str)
        PET minutes and why then; None when the change gives nothing up.
    """
    timed = [(one.decide_by_pet_min, one.why) for one in parts if one.decide_by_pet_min is not None]
    return min(timed, default=(None, NO_TIME), key=lambda one: one[0])


def part_of(change: Change, parts: Iterable[Part]) -> Change:
    """A change with some of its parts only.

    Parameters
    ----------
    change
        The whole change.
    parts
        Those that stay.

    Returns
    -------
    Change
        Without a new order.
    """
    kept = {(part.kind, part.name) for part in parts}

    def tasks(kind: str, names: Iterable[str]) -> tuple[str, ...]:
        return tuple(name for name in names if (kind, name) in kept)

    return Change(
        defer=tasks("defer", change.defer), break_off=tasks("break_off", change.break_off),
        trim={t: m for t, m in change.trim.items() if ("trim", t) in kept},
        extend={t: m for t, m in change.extend.items() if ("extend", t) in kept},
        move={t: lane for t, lane in change.move.items() if ("move", t) in kept},
        choose={a: option for a, option in change.choose.items() if ("choose", a) in kept},
    )


def decide_by(record: Record, times: Times, part: Part) -> tuple[float | None, str]:
    """By when one part of a change must be decided.

    Parameters
    ----------
    record
        Without the change.
    times
        Of the record without the change.
    part
        One act.

    Returns
    -------
    (float or None, str)
        PET minutes and why then; None when nothing is projected that would close it.
    """
    pet_min = max(0.0, record.pet_min)
    if part.kind == "choose":
        starts = [(at, t) for t in _left_out(record, part.name, str(part.to)) if (at := times.start(t)) is not None]
        return (max(pet_min, min(starts)[0]), f"when {min(starts)[1]} is projected to begin") if starts else (None, "")
    run, start, finish = record.runs[part.name], times.start(part.name), times.finish(part.name)
    if start is None or finish is None:
        return None, ""
    if part.kind == "extend":
        return max(pet_min, finish), f"when {part.name} is projected to end"
    if run.state == NOT_STARTED:
        return max(pet_min, start), f"when {part.name} is projected to begin"
    if part.kind == "trim" and isinstance(part.to, float | int):
        return pet_min + max(0.0, part.to - run.worked_min(pet_min)), f"when {part.name} has reached its new length"
    return pet_min, f"now: {part.name} is {run.state}"


def _left_out(record: Record, alternative: str, option: str) -> list[str]:
    """Tasks of the option in force that another option leaves out."""
    found = next(a for a in record.plan.alternatives if a.id == alternative)
    in_force = record.chosen.get(alternative, found.default)
    return [t for t in found.options[in_force] if t not in found.options[option]]
