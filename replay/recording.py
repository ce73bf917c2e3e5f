"""A recorded run: its plan, and its log as the room received it.

A run is one folder with `plan.toml`, the log `log.jsonl` and the header `run.toml`. Several runs of one plan may share a
folder: each is a log `run-....jsonl` with a header of the same name and the ending `.toml`. The keys of a header are `title`,
`setting`, `date` and `notes`, for a rehearsal also `parent` and `from`; each may be absent (see `replay.header` and
`replay.branch`).
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
        The plan that the run followed.
    events : sequence of event models
        Each with its `received`, in the order in which the room received them.
    unread : sequence of (datetime or None, Unread)
        Lines that could not be understood, and when the room received each (None: not known; it is always shown).
    title, setting, date : str
        In words; `date` is the day of the run.
    counts_from : str
        The time from which an event counts: ``received`` (when the room received it) or ``at`` (when it happened).
    notes : str
        The notes of the header; may be empty.
    parent : str
        For a rehearsal, and a rehearsal of a rehearsal: the title of the recorded run. Empty: not a rehearsal.
    rehearsed_from : datetime or None
        For a rehearsal: when it left the recorded run, if its header says so.
    strange : Problem or None
        A warning, if the log belongs to another plan.
    pet_zero : datetime
        Time of the last clock event; without one, when the first event was received.
    pet_zero_known : datetime
        When the room received that event.
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
        """The beginning of the run: when the room received the first event.

        Before PET zero is known, PET counts from the planned start. If the run was made on another day, that PET is
        meaningless. Such a run therefore begins when PET zero is known.
        """
        earliest, latest = self._reach
        if earliest <= self.plan.sortie.start <= latest:
            return min([self.pet_zero_known, *self.marks[:1]])
        return self.pet_zero_known

    @property
    def last(self) -> datetime:
        """The end of the run: when the room received the last event."""
        return max([self.pet_zero_known, *self.marks[-1:]])

    @property
    def rehearsal(self) -> str:
        """In words, which run it rehearses and from when. Empty: not a rehearsal."""
        begin = self.rehearsed_from
        return rehearsal(self.parent, None if begin is None else minutes_between(self.pet_zero, begin)) if self.parent else ""

    @cached_property
    def _reach(self) -> tuple[datetime, datetime]:
        return _shifted(self.pet_zero, -BEFORE_PET_ZERO), _shifted(self.pet_zero, AFTER_PET_ZERO)

    @cached_property
    def _received(self) -> list[datetime]:
        return [e.came_in for e in self.events]

    def known_at(self, now: datetime) -> list[Event]:
        """The events that the room had received by `now`.

        Parameters
        ----------
        now
            Aware.

        Returns
        -------
        list of Event
            In the order in which they were received.
        """
        return list(self.events[: bisect_right(self._received, now)])

    def unread_at(self, now: datetime) -> list[Unread]:
        """The lines received by an instant that could not be understood.

        Parameters
        ----------
        now
            Aware.

        Returns
        -------
        list of Unread
            A line of which it is not known when it was received is always among them.
        """
        return [unread for received, unread in self.unread if received is None or received <= now]


def load_run(path: Path, plan_path: Path | None = None) -> RecordedRun:
    """Read a recorded run.

    Parameters
    ----------
    path : Path
        A log file, or a folder with a `log.jsonl` or one `run-*.jsonl` in it.
    plan_path : Path or None
        The plan; None: `plan.toml` beside the log.

    Returns
    -------
    RecordedRun

    Raises
    ------
    InputError
        When a file cannot be used. It carries every problem.
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
    """Make a run from events that are already read.

    An event without `received` counts as received when it happened. If the first event was received after the last one
    happened, the log was entered as a whole afterwards, and all events count as received when they happened.

    Parameters
    ----------
    plan : Plan
    events : sequence of event models
        At least one.
    unread : sequence of Unread
        Lines that could not be understood.
    header : dict of str to str, optional
        From `replay.header.read_header`.
    name : str
        Name to use as title if neither header nor plan has one.

    Returns
    -------
    RecordedRun
    """
    dated = [e if e.received is not None else e.model_copy(update={"received": e.at}) for e in events]
    if dated and min(e.came_in for e in dated) > max(e.at for e in dated):
        # The log was entered as a whole afterwards: the times of entry are meaningless.
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
    """The run with each event counting from when it happened, not from when the room received it.

    Amendments are applied and withdrawn events are left out from the beginning. Lines that could not be understood are
    unchanged.

    Parameters
    ----------
    run : RecordedRun

    Returns
    -------
    RecordedRun
    """
    counted = events_that_count(run.plan, run.events, datetime.max.replace(tzinfo=UTC)).events
    events = sorted((e.model_copy(update={"received": e.at}) for e in counted), key=lambda e: (e.at, e.seq or 0))
    clocks = [e for e in events if isinstance(e, ClockSet)]
    zero = clocks[-1].at if clocks else run.pet_zero
    return replace(run, events=tuple(events), pet_zero=zero, pet_zero_known=zero, counts_from="at")


def packaged_scenarios() -> dict[str, Path]:
    """The folders of the scenarios that come with the program, by name."""
    root = Path(__file__).parent / "scenarios"
    if not root.is_dir():
        return {}
    return {folder.name: folder for folder in sorted(root.iterdir()) if (folder / "plan.toml").is_file()}


def logs_in(folder: Path) -> list[Path]:
    """The logs of recorded runs directly in a folder.

    Parameters
    ----------
    folder
        It need not exist.

    Returns
    -------
    list of Path
        `log.jsonl` first, then each ``run-*.jsonl`` by name.
    """
    logs = [folder / LOG_NAME, *sorted(folder.glob("run-*.jsonl"))]
    return [log for log in logs if log.is_file()]


def log_in(folder: Path) -> Path:
    """The only log in a folder.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    Path

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
    """The path of the header that belongs to a log. The file may be absent.

    Parameters
    ----------
    log_path
        Of a log that may stand alone or beside others.

    Returns
    -------
    Path
    """
    return log_path.with_name(HEADER_NAME) if log_path.name == LOG_NAME else log_path.with_suffix(".toml")


def _received_before(unread: Unread, events: Sequence[Event]) -> datetime | None:
    """When a line that is not JSON was received: with the event before it (the last `seq` below its line number)."""
    number = re.search(r"line (\d+)", unread.where or "")
    if number is None:
        return None
    return max((e.received for e in events if e.received and (e.seq or 0) < int(number.group(1))), default=None)


def _shifted(instant: datetime, by: timedelta) -> datetime:
    """The instant shifted by a length of time, limited to the range of `datetime`."""
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
