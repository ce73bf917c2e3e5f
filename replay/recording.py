"""A recorded run: the plan it was run by, and its log as the room received it.

A run is one folder: `plan.toml`, the log `log.jsonl` and the header `run.toml`. Several runs of one plan may share a
folder, each a log `run-....jsonl` with a header of the same name ending in `.toml`. Of a header every key may be absent:
`title`, `setting`, `date`, `notes`; of a rehearsal also `parent` and `from` (see `replay.header` and `replay.branch`).
"""

from __future__ import annotations

import json
import re
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import cached_property
from pathlib import Path
from typing import Literal

from dashboard.core.base.findings import Unread
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.base.times import minutes_between, parse_instant
from dashboard.core.events.clock import ClockSet
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.core.record.counted import events_that_count
from dashboard.log.logfile import read_log
from dashboard.log.planfile import load_plan
from dashboard.words import rehearsal
from replay.header import read_header

WHAT = "a log, or a folder with plan.toml and one log.jsonl or run-*.jsonl"
PLAN_NAME, LOG_NAME, HEADER_NAME = "plan.toml", "log.jsonl", "run.toml"
BEFORE_PET_ZERO = timedelta(hours=12)
AFTER_PET_ZERO = timedelta(hours=36)


@dataclass(frozen=True)
class RecordedRun:
    """One recorded run.

    Parameters
    ----------
    plan : Plan
        The plan it was run by.
    events : sequence of event models
        Each with its `received`, in the order in which the room received them.
    unread : sequence of (datetime or None, Unread)
        Lines that could not be understood, and when the room received them (None: not known, always shown).
    title, setting, date : str
        In words; `date` is the day of the run.
    counts_from : str
        From when an event counts: ``received``, when the room had it, or ``at``, when it really happened.
    notes : str
        Whatever else the header says; may be empty.
    parent : str
        Of a rehearsal: the title of the recorded run that it goes back to, over however many rehearsals. Empty: a run of
        its own.
    rehearsed_from : datetime or None
        Of a rehearsal: from when on it is no longer that run, where its header says so.
    strange : Problem or None
        A warning, when the log plainly belongs to another plan.
    pet_zero : datetime
        The last clock event, else the first event.
    pet_zero_known : datetime
        When the room received it.
    """

    plan: Plan
    events: Sequence[Event]
    unread: Sequence[tuple[datetime | None, Unread]]
    title: str
    setting: str
    date: str
    pet_zero: datetime
    pet_zero_known: datetime
    notes: str = ""
    parent: str = ""
    rehearsed_from: datetime | None = None
    strange: Problem | None = None
    counts_from: Literal["received", "at"] = "received"

    @cached_property
    def marks(self) -> list[datetime]:
        """The instants at which the room received something, in order."""
        earliest, latest = self._reach
        return sorted({e.came_in for e in self.events if earliest <= e.came_in <= latest})

    @property
    def first(self) -> datetime:
        """Where the run begins: the first thing that the room received, if PET could be told then.

        Until the room knows PET zero, PET counts from the planned start; for a run of another day that says
        nothing, so such a run begins when PET zero is known.
        """
        earliest, latest = self._reach
        if earliest <= self.plan.sortie.start <= latest:
            return min([self.pet_zero_known, *self.marks[:1]])
        return self.pet_zero_known

    @property
    def last(self) -> datetime:
        """Where the run ends: the last thing that the room received."""
        return max([self.pet_zero_known, *self.marks[-1:]])

    @property
    def rehearsal(self) -> str:
        """Of a rehearsal: of which run and from when, in words. Empty: a run of its own."""
        begin = self.rehearsed_from
        return rehearsal(self.parent, None if begin is None else minutes_between(self.pet_zero, begin)) if self.parent else ""

    @cached_property
    def _reach(self) -> tuple[datetime, datetime]:
        return _shifted(self.pet_zero, -BEFORE_PET_ZERO), _shifted(self.pet_zero, AFTER_PET_ZERO)

    @cached_property
    def _received(self) -> list[datetime]:
        return [e.came_in for e in self.events]

    def known_at(self, now: datetime) -> list[Event]:
        """The events that the room had at `now`."""
        return list(self.events[: bisect_right(self._received, now)])

    def unread_at(self, now: datetime) -> list[Unread]:
        """The lines that could not be understood and that the room had at `now`."""
        return [unread for received, unread in self.unread if received is None or received <= now]


def load_run(path: Path, plan_path: Path | None = None) -> RecordedRun:
    """Read a recorded run.

    Parameters
    ----------
    path : Path
        A log file, or a folder with a `log.jsonl` or one `run-*.jsonl` in it.
    plan_path : Path or None
        The plan; None: `plan.toml` beside the log.

    Raises
    ------
    InputError
        With every problem found in the files.
    """
    if not path.exists():
        cure = "Check the path; tetherline demo shows the run that comes with the program."
        raise InputError([Problem("recorded run", WHAT, "no such file or folder", cure, str(path))])
    log_path = log_in(path) if path.is_dir() else path
    beside = log_path.parent / PLAN_NAME
    if plan_path is None and not beside.exists():
        cure = "Put the plan there; replay and score also take it with --plan."
        raise InputError([Problem("plan of the run", "plan.toml beside the log", "no such file", cure, str(beside))])
    plan = load_plan(plan_path or beside)
    log = read_log(log_path, plan)
    if not log.events:
        found = f"none that can be read, and {len(log.unread)} that cannot" if log.unread else "none"
        raise InputError(
            [Problem("the run", "at least one event", found, "Choose another log.", str(log_path))]
        )
    name = log_path.parent.name if log_path.name == LOG_NAME else log_path.stem
    run = recorded(plan, log.events, log.unread, read_header(header_path(log_path)), name=name)
    return replace(run, strange=log.strange)


def recorded(
    plan: Plan,
    events: Sequence[Event],
    unread: Sequence[Unread] = (),
    header: dict[str, str] | None = None,
    name: str = "",
) -> RecordedRun:
    """A run from events already read; an event with no `received` counts as received when it happened."""
    dated = [e if e.received is not None else e.model_copy(update={"received": e.at}) for e in events]
    if dated and min(e.came_in for e in dated) > max(e.at for e in dated):
        # Entered as a whole afterwards: when things came in says nothing about the run.
        dated = [e.model_copy(update={"received": e.at}) for e in dated]
    dated.sort(key=lambda e: (e.came_in, e.seq or 0))
    words = header or {}
    clocks = [e for e in dated if isinstance(e, ClockSet)]
    zero: Event = max(clocks, key=lambda e: e.at) if clocks else dated[0]
    pet_zero = zero.at if clocks else zero.came_in
    return RecordedRun(
        plan=plan,
        events=tuple(dated),
        unread=tuple((_time_of_unread(line) or _received_before(line, dated), line) for line in unread),
        title=words.get("title") or plan.sortie.title or name or plan.sortie.id,
        setting=words.get("setting", ""),
        date=words.get("date") or pet_zero.date().isoformat(),
        pet_zero=pet_zero,
        pet_zero_known=zero.came_in,
        notes=words.get("notes", ""),
        parent=words.get("parent", ""),
        rehearsed_from=parse_instant(words["from"]) if words.get("from") else None,
    )


def as_it_was(run: RecordedRun) -> RecordedRun:
    """The run with what really happened when it happened, instead of when the room came to know it.

    Amendments are applied and withdrawn events are left out from the beginning, and each event counts from its own
    time. Lines that could not be understood stay as they are.
    """
    counted = events_that_count(run.plan, run.events, datetime.max.replace(tzinfo=UTC)).events
    events = sorted((e.model_copy(update={"received": e.at}) for e in counted), key=lambda e: (e.at, e.seq or 0))
    clocks = [e for e in events if isinstance(e, ClockSet)]
    zero = clocks[-1].at if clocks else run.pet_zero
    return replace(run, events=tuple(events), pet_zero=zero, pet_zero_known=zero, counts_from="at")


def packaged_scenarios() -> dict[str, Path]:
    """The scenarios that come with the program: name and folder."""
    root = Path(__file__).parent / "scenarios"
    if not root.is_dir():
        return {}
    return {folder.name: folder for folder in sorted(root.iterdir()) if (folder / "plan.toml").is_file()}


def logs_in(folder: Path) -> list[Path]:
    """The logs of recorded runs that lie in a folder itself, in order."""
    logs = [folder / LOG_NAME, *sorted(folder.glob("run-*.jsonl"))]
    return [log for log in logs if log.is_file()]


def log_in(folder: Path) -> Path:
    """The one log in a folder.

    Raises
    ------
    InputError
        When there is none, or more than one.
    """
    logs = logs_in(folder)
    if len(logs) == 1:
        return logs[0]
    found = "none" if not logs else ", ".join(log.name for log in logs)
    cure = "Give the log file itself." if logs else "Give a folder with plan.toml and a recorded run."
    raise InputError([Problem("folder of a run", f"one file {LOG_NAME} or run-*.jsonl", found, cure, str(folder))])


def header_path(log_path: Path) -> Path:
    """Where the header of a log stands, if it has one."""
    return log_path.with_name(HEADER_NAME) if log_path.name == LOG_NAME else log_path.with_suffix(".toml")


def _received_before(unread: Unread, events: Sequence[Event]) -> datetime | None:
    """A line that is not JSON came in with the line before it: the last event with a `seq` below its line number."""
    number = re.search(r"line (\d+)", unread.where or "")
    if number is None:
        return None
    return max((e.received for e in events if e.received and (e.seq or 0) < int(number.group(1))), default=None)


def _shifted(instant: datetime, by: timedelta) -> datetime:
    """The instant so much later, held within what a calendar holds."""
    try:
        return instant + by
    except OverflowError:
        return (datetime.max if by > timedelta() else datetime.min).replace(tzinfo=UTC)


def _time_of_unread(unread: Unread) -> datetime | None:
    try:
        raw = json.loads(unread.line)
        return parse_instant(raw.get("received") or raw.get("at"))
    except (ValueError, AttributeError, RecursionError):
        return None
