"""Reads event logs: JSON Lines, and CSV with the same column names.

A line that cannot be understood is kept verbatim with the reason and its number. Names are not checked here:
`dashboard.core.events.names` checks them over the whole set of events.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from dashboard.core.base.findings import Unread
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.events.answers import Answer
from dashboard.core.events.event import Event
from dashboard.core.events.kinds import UnreadableEvent, parse_event
from dashboard.core.events.names import MOST_SHOWN, KnownNames, of_another_plan
from dashboard.core.plan.model import Plan
from dashboard.log.csv_rows import DELIMITERS, csv_rows, lines_of, shown
from dashboard.log.event_cells import event_value
from dashboard.log.eventtext import difference, event_of_text, same_content
from dashboard.log.limits import EVENT_LOG
from dashboard.log.rows import Row, is_filled
from dashboard.log.textfile import read_file, refusal, refuse_binary

WHAT = EVENT_LOG.what
NO_ROW = Row(0, ())
NOISE_LINES = 20_000  # a file without an event among this many first lines is not a log


@dataclass
class LogRead:
    """The content of a log.

    Parameters
    ----------
    events
        In the order of the file, each once. `seq` is the line, unless the event gives its own.
    unread
        Lines that could not be understood, verbatim, with the reason and ``line N``.
    strange
        A warning when the log plainly belongs to another plan or sortie; None otherwise.
    """

    events: list[Event] = field(default_factory=list)
    unread: list[Unread] = field(default_factory=list)
    strange: Problem | None = None


@dataclass(frozen=True)
class _Record:
    """One event as it stands in the file."""

    line: int
    raw: str
    read: Callable[[], Event]


def read_log(path: str | Path, plan: Plan) -> LogRead:
    """Read an event log.

    Parameters
    ----------
    path
        JSON Lines, or CSV with a header.
    plan
        The plan that the sortie was run by. Events of another sortie count as not understood.

    Returns
    -------
    LogRead
        With at least one event.

    Raises
    ------
    InputError
        When the file cannot be a log of this sortie: missing, empty, binary, too large, without a line that can be read, or
        wholly of another sortie or plan.
    """
    path = Path(path)
    data = read_file(path, WHAT, EVENT_LOG.file_mb)
    lines = lines_of(data)
    records = _csv_records(path, data) if _is_csv(path, lines) else _json_records(lines)
    log = LogRead()
    by_id: dict[str, Event] = {}
    strangers: list[Event] = []
    for record in records:
        try:
            event = record.read()
            first = by_id.get(event.id)
            if event.sortie not in (None, plan.sortie.id):
                strangers.append(event)
            _check_event(event, first, plan)
        except UnreadableEvent as wrong:
            log.unread.append(Unread(line=record.raw, why=str(wrong), where=f"line {record.line}"))
            if not by_id and not strangers and len(log.unread) >= NOISE_LINES:
                break
            continue
        if first is None:
            by_id[event.id] = event
            log.events.append(event)
    if not log.events:
        raise _refused(path, plan, log, strangers, data)
    log.strange = _strange(path, plan, log.events, strangers)
    return log


def _check_event(event: Event, first: Event | None, plan: Plan) -> None:
    """Raise UnreadableEvent when an event is of another sortie, or differs from the first one with its id."""
    if event.sortie not in (None, plan.sortie.id):
        raise UnreadableEvent(f"expected an event of sortie '{plan.sortie.id}'; found one of '{event.sortie}'")
    if first is not None and not same_content(first, event):
        raise UnreadableEvent(
            f"expected one event with the id '{event.id}'; found a second one that differs in "
            f"{difference(first, event)} (the first, seq {first.seq}, stands)"
        )


def _strange(path: Path, plan: Plan, events: list[Event], strangers: list[Event]) -> Problem | None:
    """A warning when most of a log is of another sortie, or names the tasks of another plan; None otherwise.

    Raises
    ------
    InputError
        When no event fits the plan.
    """
    subject, expected = f"file {path.name}", f"a log of sortie '{plan.sortie.id}'"
    cure = "Choose the plan that was used for this log, or the log of this plan."
    names = KnownNames.of(plan, events)
    said = [(event, names.unknown(event)) for event in events if not isinstance(event, Answer)]
    if said and all(why is not None for _, why in said):
        nothing = f"one without an event that fits the plan (events: {len(events)}); event {said[0][0].id}: {said[0][1]}"
        raise InputError([Problem(subject, expected, nothing, cure, str(path))])
    found = of_another_plan(plan, events)
    if len(strangers) > len(events):
        others = ", ".join(_sorties(strangers)[:MOST_SHOWN])
        found = f"one in which {len(strangers)} of {len(events) + len(strangers)} events are of sortie '{others}'"
    return Problem(subject, expected, found, cure, str(path), "caution") if found else None


def _sorties(strangers: Iterable[Event]) -> list[str]:
    """The sorties that these events name."""
    return sorted({event.sortie for event in strangers if event.sortie is not None})


def _refused(path: Path, plan: Plan, log: LogRead, strangers: list[Event], data: bytes) -> InputError:
    """The error for a file without an event of this sortie; raised at once when the file is binary."""
    if strangers:
        others = ", ".join(_sorties(strangers)[:MOST_SHOWN])
        return InputError([Problem(
            f"file {path.name}", f"a log of sortie '{plan.sortie.id}'", f"a log of sortie '{others}'",
            "Choose the plan of that sortie, or the log of this one.", str(path),
        )])
    refuse_binary(path, WHAT, data)
    if b"[sortie]" in data or b"[[task]]" in data:
        return refusal(path, WHAT, "a plan file", "Give the log here; the plan is given separately.")
    first = log.unread[0] if log.unread else None
    found = f"no line that can be read; {first.where}: {first.why}" if first else "no event"
    return refusal(path, WHAT, found, "Write one JSON object per line, or CSV with a header: id, at, kind, ...")


# --- records --------------------------------------------------------------------------------------


def _is_csv(path: Path, lines: list[bytes]) -> bool:
    if path.suffix.lower() == ".csv":
        return True
    return is_csv_header(next((line for line in lines if line.strip()), b""))


def is_csv_header(line: bytes) -> bool:
    """Tell whether a line names the columns of an event log in CSV.

    Parameters
    ----------
    line
        The first line of a file or feed that is not empty.

    Returns
    -------
    bool
        True when it names at least id, at and kind.
    """
    return {"id", "at", "kind"} <= {part.strip(' "\r').lower() for part in re.split(f"[{DELIMITERS}]", shown(line))}


def line_text(line: bytes) -> str:
    """Decode a line of a log.

    Parameters
    ----------
    line
        Its bytes.

    Returns
    -------
    str
        The line as it is.

    Raises
    ------
    UnreadableEvent
        When the line is not UTF-8; its message names the byte.
    """
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError as wrong:
        raise UnreadableEvent(
            f"expected UTF-8; found byte 0x{line[wrong.start]:02x} at byte {wrong.start} of the line"
        ) from None


def _json_records(lines: list[bytes]) -> Iterator[_Record]:
    for number, line in enumerate(lines, start=1):
        line = line.removesuffix(b"\r")
        if line.strip():
            yield _Record(number, shown(line), partial(_read_json, line, number))


def _read_json(line: bytes, number: int) -> Event:
    return event_of_text(line_text(line), seq=number)


def _csv_records(path: Path, data: bytes) -> Iterator[_Record]:
    rows = csv_rows(path, data, EVENT_LOG)
    header = header_of(next(rows, NO_ROW))  # empty when it cannot be read; then no row can be read
    for row in rows:
        yield _Record(row.line, row.raw, partial(_read_csv, header, row))


def _read_csv(header: Sequence[str], row: Row) -> Event:
    return parse_event({"seq": row.line, **table_of_row(header, row)})


def header_of(row: Row) -> list[str]:
    """Read the names of the columns of an event log in CSV.

    Parameters
    ----------
    row
        Its first row.

    Returns
    -------
    list of str
        In lower case, without spaces around them; empty when the row has a fault.
    """
    return [str(name).strip().lower() for name in row.cells]


def table_of_row(header: Sequence[str], row: Row) -> dict[str, Any]:
    """Read the fields of the event in one row of CSV.

    Parameters
    ----------
    header
        Names of the columns.
    row
        The row.

    Returns
    -------
    dict
        Value by field; fields with an empty cell are left out.

    Raises
    ------
    UnreadableEvent
        When the row has a fault or more cells than the header, or when a cell begins like JSON but is not JSON.
    """
    if row.fault:
        raise UnreadableEvent(row.fault)
    if len(row.cells) > len(header):
        raise UnreadableEvent(f"expected {len(header)} cells, as in the header; found {len(row.cells)}")
    named = zip(header, row.cells, strict=False)
    return {name: event_value(name, str(cell)) for name, cell in named if is_filled(cell)}
