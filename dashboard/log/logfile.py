"""Reading and writing event logs: JSON Lines, and CSV with the same column names.

What cannot be understood is kept verbatim with the reason and the line. Names are not judged here:
`dashboard.core.events.names` judges them over the whole set of events.
"""

from __future__ import annotations

import csv
import io
import json
import os
import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from dashboard.core.base.findings import Unread
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.events.answers import Answer
from dashboard.core.events.event import Event
from dashboard.core.events.fields import FIELDS, LIST_FIELDS, TABLE_FIELDS
from dashboard.core.events.kinds import UnreadableEvent, parse_event
from dashboard.core.events.names import MOST_SHOWN, KnownNames, of_another_plan
from dashboard.core.plan.model import Plan
from dashboard.log.eventtext import difference, event_of_text, same_content, text_of_event
from dashboard.log.textfile import UTF8_MARK, read_file, refusal, refuse_binary

WHAT = "an event log (JSON Lines or CSV)"
LARGEST_MB = 50.0
DELIMITERS = ",;\t"
MOST_LINES_A_ROW = 200
NOISE_LINES = 20_000  # a file that has not one event among so many first lines is no log


@dataclass
class LogRead:
    """What a log holds.

    Parameters
    ----------
    events : list of event models
        In the order of the file, each once; `seq` is the line where the event does not give its own.
    unread : list of Unread
        Lines that could not be understood, verbatim, with the reason and ``line N``.
    strange : Problem or None
        A warning, when the log plainly belongs to another plan or sortie.
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
    path : str or Path
        JSON Lines, or CSV with a header.
    plan : Plan
        The plan it was run by; events of another sortie are not understood.

    Raises
    ------
    InputError
        When the file cannot be a log of this sortie at all: missing, empty, binary, too large, without one line
        that can be read, or of another sortie or plan throughout.
    """
    path = Path(path)
    data = read_file(path, WHAT, LARGEST_MB)
    lines = data.removeprefix(UTF8_MARK).split(b"\n")
    records = _csv_records if _is_csv(path, lines) else _json_records
    log = LogRead()
    by_id: dict[str, Event] = {}
    strangers: list[Event] = []
    for record in records(lines):
        try:
            event = record.read()
            first = by_id.get(event.id)
            if event.sortie is not None and event.sortie != plan.sortie.id:
                strangers.append(event)
                raise UnreadableEvent(f"expected an event of sortie '{plan.sortie.id}'; found one of '{event.sortie}'")
            if first is not None and not same_content(first, event):
                raise UnreadableEvent(
                    f"expected one event with the id '{event.id}'; found a second one that differs in "
                    f"{difference(first, event)} (the first, seq {first.seq}, stands)"
                )
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


def _strange(path: Path, plan: Plan, events: list[Event], strangers: list[Event]) -> Problem | None:
    """A warning, when most of a log is of another sortie or speaks of the tasks of another plan.

    Raises
    ------
    InputError
        When nothing of it fits the plan.
    """
    subject, expected = f"file {path.name}", f"a log of sortie '{plan.sortie.id}'"
    cure = "Choose the plan that the log was kept by, or the log of this plan."
    names = KnownNames.of(plan, events)
    said = [(event, names.unknown(event)) for event in events if not isinstance(event, Answer)]
    if said and all(why is not None for _, why in said):
        nothing = f"one of which nothing fits the plan (events: {len(events)}); event {said[0][0].id}: {said[0][1]}"
        raise InputError([Problem(subject, expected, nothing, cure, str(path))])
    found = of_another_plan(plan, events)
    if len(strangers) > len(events):
        others = ", ".join(_sorties(strangers)[:MOST_SHOWN])
        found = f"one of which {len(strangers)} of {len(events) + len(strangers)} events are of sortie '{others}'"
    return Problem(subject, expected, found, cure, str(path), "warning") if found else None


def _sorties(strangers: Iterable[Event]) -> list[str]:
    """The sorties that these events name."""
    return sorted({event.sortie for event in strangers if event.sortie is not None})


def _refused(path: Path, plan: Plan, log: LogRead, strangers: list[Event], data: bytes) -> InputError:
    """Why a file without one event of this sortie is refused; raised at once when it is binary."""
    if strangers:
        others = ", ".join(_sorties(strangers)[:MOST_SHOWN])
        return InputError([Problem(
            f"file {path.name}", f"a log of sortie '{plan.sortie.id}'", f"a log of sortie '{others}'",
            "Choose the plan of that sortie, or the log of this one.", str(path),
        )])
    refuse_binary(path, WHAT, data)
    if b"[sortie]" in data or b"[[task]]" in data:
        return refusal(path, WHAT, "a plan file", "Name the log; the plan is given beside it.")
    first = log.unread[0] if log.unread else None
    found = f"no line that can be read; {first.where}: {first.why}" if first else "no event"
    return refusal(path, WHAT, found, "Write one JSON object a line, or CSV with a header: id, at, kind, ...")


# --- records --------------------------------------------------------------------------------------


def _is_csv(path: Path, lines: list[bytes]) -> bool:
    if path.suffix.lower() == ".csv":
        return True
    first = _shown(next((line for line in lines if line.strip()), b""))
    return {"id", "at", "kind"} <= {part.strip(' "\r').lower() for part in re.split(f"[{DELIMITERS}]", first)}


def _text(line: bytes) -> str:
    """The line, checked.

    Raises
    ------
    UnreadableEvent
        With the byte that is not UTF-8.
    """
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError as wrong:
        raise UnreadableEvent(
            f"expected UTF-8; found byte 0x{line[wrong.start]:02x} at byte {wrong.start} of the line"
        ) from None


def _shown(line: bytes) -> str:
    return line.decode("utf-8", "backslashreplace")


def _json_records(lines: list[bytes]) -> Iterator[_Record]:
    for number, line in enumerate(lines, start=1):
        line = line.removesuffix(b"\r")
        if line.strip():
            yield _Record(number, _shown(line), partial(_read_json, line, number))


def _read_json(line: bytes, number: int) -> Event:
    return event_of_text(_text(line), seq=number)


def _csv_records(lines: list[bytes]) -> Iterator[_Record]:
    first = _shown(next((line for line in lines if line.strip()), b""))
    delimiter = max(DELIMITERS, key=first.count)
    header: list[str] | None = None
    for number, raw in _csv_rows(lines, delimiter):
        if header is None:
            header = _header(_shown(raw), delimiter)
        else:
            yield _Record(number, _shown(raw), partial(_read_csv, header, delimiter, raw, number))


def _header(text: str, delimiter: str) -> list[str]:
    """The column names; none when they cannot be read, and then no row can."""
    with suppress(csv.Error):
        return [name.strip().lower() for name in next(csv.reader(text.split("\n"), delimiter=delimiter))]
    return []


def _csv_rows(lines: list[bytes], delimiter: str) -> Iterator[tuple[int, bytes]]:
    """The bytes of each row, with the line it begins on.

    A cell in quotes may run over several lines. Where a quote is never closed, only its own line is lost.
    """
    at = 0
    while at < len(lines):
        used = 1
        if b'"' in lines[at]:
            ahead = (f"{_shown(line)}\n" for line in lines[at : at + MOST_LINES_A_ROW])
            reader = csv.reader(ahead, delimiter=delimiter, strict=True)
            with suppress(csv.Error):
                next(reader)
                used = reader.line_num
        row = b"\n".join(lines[at : at + used]).rstrip(b"\r")
        if row.strip(b" \t,;"):
            yield at + 1, row
        at += used


def _read_csv(header: list[str], delimiter: str, raw: bytes, number: int) -> Event:
    try:
        cells = next(csv.reader(io.StringIO(_text(raw), newline=""), delimiter=delimiter, strict=True))
    except csv.Error as wrong:
        raise UnreadableEvent(f"expected a row of CSV; found {wrong}") from None
    if any(cells[len(header):]):
        raise UnreadableEvent(f"expected {len(header)} cells, as in the header; found {len(cells)}")
    table: dict[str, Any] = {"seq": number}
    for name, cell in zip(header, cells, strict=False):
        if cell.strip():
            table[name] = _cell(name, cell)
    return parse_event(table)


def _cell(name: str, cell: str) -> Any:
    text = cell.strip()
    if name == "chosen":
        with suppress(ValueError, RecursionError):
            return json.loads(text)
        return cell
    if name in TABLE_FIELDS and text[0] == "{" or name in LIST_FIELDS and text[0] == "[":
        try:
            return json.loads(text)
        except (ValueError, RecursionError):
            raise UnreadableEvent(f"{name}: expected JSON in the cell; found '{text[:60]}'") from None
    return text.split() if name in LIST_FIELDS else cell


# --- writing --------------------------------------------------------------------------------------


def write_log(events: Iterable[Event], path: str | Path, unread: Iterable[Unread] = ()) -> None:
    """Write events as JSON Lines, or as CSV when `path` ends in .csv.

    The file appears whole or not at all.

    Parameters
    ----------
    unread : iterable of Unread
        Lines that could not be understood; JSON Lines carry them along verbatim.

    Raises
    ------
    InputError
        When it cannot be written.
    """
    path = Path(path)
    if path.suffix.lower() == ".csv":
        text = _csv_text(events)
    else:
        text = "".join(f"{line}\n" for line in [*map(text_of_event, events), *(_one_line(u.line) for u in unread)])
    part = path.with_name(f"{path.name}.part")
    try:
        with part.open("w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError as wrong:
        raise refusal(path, "a place to write the log", str(wrong.strerror), "Choose another folder.") from None


def _one_line(line: str) -> str:
    return json.dumps(line) if "\n" in line or "\r" in line else line


def _csv_text(events: Iterable[Event]) -> str:
    out = io.StringIO()
    tables = [json.loads(text_of_event(event)) for event in events]
    used = {key for table in tables for key in table}
    columns = [*(name for name in FIELDS if name in used), *sorted(used - set(FIELDS))]
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    for table in tables:
        writer.writerow([_cell_text(name, table.get(name)) for name in columns])
    return out.getvalue()


def _cell_text(name: str, value: Any) -> str:
    if name in LIST_FIELDS and isinstance(value, list):
        return " ".join(value)
    if isinstance(value, str) and name != "chosen":
        return value
    return "" if value is None else json.dumps(value, ensure_ascii=False)


