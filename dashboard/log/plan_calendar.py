"""Writes the briefed tasks of a plan as a calendar (RFC 5545): one entry per task, with its lanes and its worksite.

1. Times are in UTC, from the planned PET zero. A task without a briefed start (a get-ahead, a step of a contingency) has
   no entry.
2. A task of an option that is not the default is tentative.
3. The same plan gives the same identifiers again, so that a calendar replaces its entries when it imports the file once more.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

from dashboard.core.base.caution import CAUTION
from dashboard.core.base.minutes import clock
from dashboard.core.base.times import plus_minutes
from dashboard.core.plan.model import Plan, Task

LONGEST_LINE_BYTES = 75  # RFC 5545, section 3.1, without the end of the line
ENDING = ".ics"


def plan_to_calendar(plan: Plan, made_at: datetime) -> bytes:
    """Write the briefed tasks of a plan as a calendar.

    Parameters
    ----------
    plan
        Any plan.
    made_at
        When the calendar is written (aware); each entry carries it as its stamp.

    Returns
    -------
    bytes
        The content of an iCalendar file.
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Tetherline//Sortie plan//EN", "CALSCALE:GREGORIAN",
             f"X-WR-CALNAME:{_text(plan.sortie.title or plan.sortie.id)}"]
    for task in entries(plan):
        lines += _event(plan, task, made_at)
    lines.append("END:VCALENDAR")
    return "".join(f"{_folded(line)}\r\n" for line in lines).encode("utf-8")


def entries(plan: Plan) -> list[Task]:
    """List the tasks that have an entry in the calendar.

    Parameters
    ----------
    plan
        Any plan.

    Returns
    -------
    list of Task
        Those with a briefed start, by their start.
    """
    briefed = [task for task in plan.tasks if task.start is not None and not task.get_ahead]
    return sorted(briefed, key=lambda task: task.start or 0.0)


def _event(plan: Plan, task: Task, made_at: datetime) -> Iterator[str]:
    start_pet_min = task.start or 0.0
    end_pet_min = start_pet_min + task.likely_min
    sites = {site.id: site.title or site.id for site in plan.worksites}
    yield "BEGIN:VEVENT"
    yield f"UID:{_text(f'{task.id}@{plan.sortie.id}.tetherline')}"
    yield f"DTSTAMP:{_instant(made_at)}"
    yield f"DTSTART:{_instant(plus_minutes(plan.sortie.start, start_pet_min))}"
    if end_pet_min > start_pet_min:  # an end must be later than the start
        yield f"DTEND:{_instant(plus_minutes(plan.sortie.start, end_pet_min))}"
    yield f"SUMMARY:{_text(f'{task.id} {task.title}'.strip())} ({_text(', '.join(task.lanes))})"
    if task.worksite is not None:
        yield f"LOCATION:{_text(sites.get(task.worksite, task.worksite))}"
    yield f"CATEGORIES:{','.join(_text(lane) for lane in task.lanes)}"
    option = _option(plan, task)
    said = [
        f"Lanes: {', '.join(task.lanes)}", f"PET {clock(start_pet_min)} to {clock(end_pet_min)}, from the planned PET zero",
        f"Duration: {_minutes(task.duration.low)}, {_minutes(task.duration.likely)}, {_minutes(task.duration.high)} min"
        " (low, likely, high)",
        *([f"Worksite: {sites.get(task.worksite, task.worksite)}"] if task.worksite is not None else []),
        *([f"Only if '{option[1]}' is taken for {option[0]}"] if option else []),
        *([task.notes] if task.notes else []),
        CAUTION,
    ]
    yield f"DESCRIPTION:{_text(chr(10).join(said))}"
    yield f"STATUS:{'TENTATIVE' if option else 'CONFIRMED'}"
    yield "END:VEVENT"


def _option(plan: Plan, task: Task) -> tuple[str, str] | None:
    """The alternative and the option that bring a task into the plan; None when the plan has it as briefed."""
    taken = {name for one in plan.alternatives for name in one.options[one.default]}
    if task.id in taken:
        return None
    others = ((one.id, option) for one in plan.alternatives for option, names in one.options.items() if task.id in names)
    return next(others, None)


def _minutes(minutes: float) -> str:
    return f"{minutes:g}"


def _instant(instant: datetime) -> str:
    """To the second, in UTC, as RFC 5545, section 3.3.5, form 2."""
    return f"{instant.astimezone(UTC):%Y%m%dT%H%M%SZ}"


def _text(text: str) -> str:
    """A text with its special signs escaped (RFC 5545, section 3.3.11). Control characters become spaces."""
    plain = "".join(sign if sign.isprintable() or sign in "\n\t" else " " for sign in text.replace("\r\n", "\n"))
    for sign in ("\\", ";", ","):
        plain = plain.replace(sign, f"\\{sign}")
    return plain.replace("\n", "\\n")


def _folded(line: str) -> str:
    """A line in pieces of at most `LONGEST_LINE_BYTES` bytes; each further piece begins with a space (section 3.1)."""
    pieces, piece, size = [], "", 0
    for sign in line:
        width = len(sign.encode("utf-8"))
        if size + width > LONGEST_LINE_BYTES:
            pieces.append(piece)
            piece, size = " ", 1
        piece, size = piece + sign, size + width
    return "\r\n".join([*pieces, piece])
