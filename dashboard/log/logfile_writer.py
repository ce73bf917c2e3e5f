"""Writes an event log: JSON Lines, or CSV with the same column names."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable
from pathlib import Path

from dashboard.core.base.findings import Unread
from dashboard.core.events.event import Event
from dashboard.core.events.fields import FIELDS
from dashboard.log.csv_texts import guarded
from dashboard.log.event_cells import event_cell
from dashboard.log.eventtext import text_of_event
from dashboard.log.textfile import refusal
from dashboard.log.whole_file import write_whole


def write_log(events: Iterable[Event], path: str | Path, unread: Iterable[Unread] = ()) -> None:
    """Write events as JSON Lines, or as CSV when the name of the file ends in .csv.

    The file appears as a whole, or not at all.

    Parameters
    ----------
    events
        In the order in which they are to stand.
    path
        The file; an existing one is replaced.
    unread
        Lines that could not be understood. JSON Lines keep them verbatim; CSV leaves them out.

    Raises
    ------
    InputError
        When the file cannot be written.
    """
    path = Path(path)
    text = _csv_text(events) if path.suffix.lower() == ".csv" else lines_of_log(events, unread)
    try:
        write_whole(path, text.encode(), to_disk=True)
    except OSError as wrong:
        raise refusal(path, "a place to write the log", str(wrong.strerror), "Choose another folder.") from None


def lines_of_log(events: Iterable[Event], unread: Iterable[Unread] = ()) -> str:
    """Write events as JSON Lines.

    Parameters
    ----------
    events
        In the order in which they are to stand.
    unread
        Lines that could not be understood; they are kept verbatim, behind the events.

    Returns
    -------
    str
        Each line with its end.
    """
    return "".join(f"{line}\n" for line in [*map(text_of_event, events), *(_one_line(one.line) for one in unread)])


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
        writer.writerow([guarded(event_cell(name, table.get(name))) for name in columns])
    return out.getvalue()
