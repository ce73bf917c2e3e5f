"""Reads the plan and the log of a command, and finds the instant that the command asks about."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from dashboard.cli.at import instant_at, is_pet
from dashboard.cli.printing import warn
from dashboard.core.base.findings import Unread
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.base.times import instant_text, minutes_between
from dashboard.core.events.event import Event
from dashboard.core.events.far_off import far_off, work_agrees
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from dashboard.log.logfile import LogRead, read_log
from dashboard.log.planfile import examine_plan
from dashboard.words import how_many

SAME_ZERO_MIN = 0.5


class Asked(NamedTuple):
    """A plan, the content of its log, and the instant that the command asks about."""

    plan: Plan
    events: list[Event]
    unread: list[Unread]
    now: datetime


def ask_log(plan_path: Path, log_path: Path, at: str | None) -> Asked:
    """Read the plan, the log and the time of a command.

    Parameters
    ----------
    plan_path
        The plan file.
    log_path
        The event log; an empty file is a log without events.
    at
        A PET or an instant as text; None: the time of the last event.

    Returns
    -------
    Asked
        Without an event and without `at`, its instant is the planned start.

    Raises
    ------
    InputError
        When plan or log cannot be used, when no event of the log belongs to the plan, or when the time cannot be used.
    """
    plan = _plan_to_follow(plan_path)
    log = LogRead() if _holds_nothing(log_path) else read_log(log_path, plan)
    last = max((event.at for event in log.events), default=plan.sortie.start)
    record = reconcile(plan, log.events, last)
    warn(log.strange)
    if at is None:
        return Asked(plan, log.events, log.unread, _last_of_the_sortie(record, log.events, last))
    now = instant_at(at, record.pet_zero)
    known = reconcile(plan, log.events, now).pet_zero
    if is_pet(at) and abs(minutes_between(known, record.pet_zero)) > SAME_ZERO_MIN:
        found = f"'{at}', which lies before the clock event that sets PET zero to {instant_text(record.pet_zero)}"
        cure = "Give a later PET. For an earlier time give the instant; PET then counts from the planned start."
        raise InputError([Problem("option --at", "a PET at which PET zero is known already", found, cure)])
    return Asked(plan, log.events, log.unread, now)


def _plan_to_follow(plan_path: Path) -> Plan:
    """Read the plan. Errors with which it can still be followed are printed on standard error as warnings."""
    plan, problems = examine_plan(plan_path)
    if plan is None:
        raise InputError(problems)
    for problem in problems:
        if problem.severity == "error":
            warn(problem)
    return plan


def _holds_nothing(log_path: Path) -> bool:
    """Tell whether the log exists and is empty, as before the sortie. If so, this is printed on standard error."""
    if not log_path.is_file() or log_path.stat().st_size:
        return False
    print(f"{log_path}: the log holds no event yet", file=sys.stderr)
    return True


def _last_of_the_sortie(record: Record, events: list[Event], last: datetime) -> datetime:
    """The time of the last event that is not dated far off the sortie. A warning is printed about events that are."""
    plan, zero = record.plan, record.pet_zero
    agreed = work_agrees(plan, zero, events)
    odd = {e.id: said for e in events if (said := far_off(plan, zero, e, agreed=agreed)) is not None}
    near: list[datetime] = [event.at for event in events if event.id not in odd]
    if not odd or not near:
        return last
    name, said = next(iter(odd.items()))
    many = how_many(len(odd), "event is", "events are")
    print(f"warning: {many} dated far off the sortie and not used as its last event; {name}: {said}.", file=sys.stderr)
    return max(near)
