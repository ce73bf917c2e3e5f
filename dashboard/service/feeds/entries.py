"""Reads the lines of a feed: events for the intake, and unreadable lines that are kept word for word.

A source is JSON Lines or CSV with a header, like the log files (`dashboard.log.logfile`). The rules of the room say how an
entry without an `id` is identified.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from typing import Any, NamedTuple

from dashboard.core.base.times import instant_text
from dashboard.core.events.kinds import UnreadableEvent, parse_event
from dashboard.log.csv_rows import csv_row, delimiter_of, is_open, shown
from dashboard.log.eventtext import table_of_text
from dashboard.log.limits import EVENT_LOG
from dashboard.log.logfile import header_of, is_csv_header, line_text, table_of_row
from dashboard.log.store import Quarantined
from dashboard.log.textfile import UTF8_MARK
from dashboard.service.completing import with_instants
from dashboard.service.feeds.lines import LONGEST_LINE_BYTES, Line

MOST_LINES_PER_ROW = 20  # if a quote is not closed within so many lines, only the line that opened it becomes unreadable
ID_DIGITS = 24
_SOME_TIME = datetime(2000, 1, 1, tzinfo=UTC)


class Entry(NamedTuple):
    """One entry of a source.

    Parameters
    ----------
    item : dict or Quarantined
        The event as the intake takes it, or the line when it cannot be read.
    raw : str
        Its text in the source, word for word.
    place : str
        Where it is in the source, in words.
    """

    item: dict[str, Any] | Quarantined
    raw: str
    place: str

    def kept_because(self, why: str) -> Quarantined:
        """The entry as a line that is kept unread.

        Parameters
        ----------
        why
            The reason, a sentence.

        Returns
        -------
        Quarantined
            The text of the entry, with the reason and the place.
        """
        return Quarantined(self.raw, f"{why} ({self.place})")


class Reader:
    """Reads the lines of one source.

    Parameters
    ----------
    where : str
        Name of the source, for the place of each line.
    source : str
        Identifies the source. The ids of entries depend on it, so two sources with the same content give different ids.
    csv : bool or None
        Whether the source is CSV; None: its first line says so.
    """

    def __init__(self, where: str, source: str, *, csv: bool | None = None) -> None:
        self._where, self._source, self._given_csv = where, source, csv
        self.begin()

    def begin(self) -> None:
        """Prepare for the beginning of a file."""
        self._held: Counter[str] = Counter()
        self._first: str | None = None
        self._csv = self._given_csv
        self._begun = False
        self._header: list[str] | None = None
        self._delimiter = ","
        self._open: list[Line] = []

    def entries(self, lines: Iterable[Line], mark: str | None = None) -> list[Entry]:
        """The entries that these lines complete.

        Parameters
        ----------
        lines : iterable of Line
            The next lines of the source, in order.
        mark : str or None
            Distinguishes entries that have neither `id` nor `at` from others with the same content. None: the first entry of
            the file distinguishes them. A file that is rewritten with more entries then gives the same ids again, and the
            file after a rotation gives different ones.

        Returns
        -------
        list of Entry
            A row whose quote is still open is not among them; it waits for the lines to come.
        """
        return [entry for line in lines for entry in self._of_line(line, mark)]

    def settle(self) -> list[Entry]:
        """The entries of lines that still wait because a quote was not closed."""
        found: list[Entry] = []
        while self._open:
            found += self._first_alone()
        return found

    # -- lines

    def _of_line(self, line: Line, mark: str | None) -> Iterator[Entry]:
        if not self._begun:
            line = line._replace(raw=line.raw.removeprefix(UTF8_MARK))
        if not line.raw.strip() and not self._open:
            return
        if not self._begun:
            self._begun = True
            if self._csv is None:
                self._csv = is_csv_header(line.raw)
        if line.size > LONGEST_LINE_BYTES:
            why = f"expected a line of at most {LONGEST_LINE_BYTES} bytes; found one of {line.size}; the rest of it is not kept"
            yield _unread(shown(line.raw), self._place(line), why)
        elif not self._csv:
            yield self._of_json(line, mark)
        elif self._header is None:
            self._delimiter = delimiter_of([shown(line.raw)])
            self._header = header_of(csv_row(1, line.number, line.raw, self._delimiter, EVENT_LOG))
        else:
            self._open.append(line)
            if not is_open(b"\n".join(one.raw for one in self._open), self._delimiter):
                yield self._of_row(self._open)
                self._open = []
            elif len(self._open) >= MOST_LINES_PER_ROW:
                yield from self._first_alone()

    def _first_alone(self) -> list[Entry]:
        """Take the first waiting line as an entry of its own, then read the other waiting lines again."""
        first, *rest = self._open
        self._open = []
        return [self._of_row([first]), *self.entries(rest)]

    def _of_json(self, line: Line, mark: str | None) -> Entry:
        raw = shown(line.raw)
        try:
            return self._of_table(table_of_text(line_text(line.raw)), raw, self._place(line), mark)
        except UnreadableEvent as wrong:
            return _unread(raw, self._place(line), str(wrong))

    def _of_row(self, lines: list[Line]) -> Entry:
        raw = b"\n".join(line.raw for line in lines)
        row = csv_row(lines[0].number, lines[0].number, raw, self._delimiter, EVENT_LOG)
        try:
            return self._of_table(table_of_row(self._header or [], row), shown(raw), self._place(lines[0]))
        except UnreadableEvent as wrong:
            return _unread(shown(raw), self._place(lines[0]), str(wrong))

    # -- tables

    def _of_table(self, table: dict[str, Any], raw: str, place: str, mark: str | None = None) -> Entry:
        """The event in a table, with an id; raises UnreadableEvent when the table is not an event."""
        item, has_time = dict(table), table.get("at") is not None
        self._first = self._first or self._digest(raw.strip())
        if item.get("id") is None:
            item["id"] = self._id_of(raw.strip(), has_time, mark)
        timed = item if has_time else {**item, "at": instant_text(_SOME_TIME)}
        parse_event(with_instants(timed, _SOME_TIME))
        return Entry(item, raw, place)

    def _id_of(self, content: str, has_time: bool, mark: str | None) -> str:
        """The id of an entry that has none of its own."""
        digest = self._digest(content)
        if not has_time:
            self._held[digest] += 1
            digest = self._digest(f"{digest} {self._first if mark is None else mark} {self._held[digest]}")
        return f"feed-{digest[:ID_DIGITS]}"

    def _digest(self, content: str) -> str:
        return hashlib.sha256(f"{self._source}\0{content}".encode()).hexdigest()

    def _place(self, line: Line) -> str:
        return f"line {line.number} of {self._where}"


def _unread(raw: str, place: str, why: str) -> Entry:
    return Entry(Quarantined(raw, f"{why} ({place})"), raw, place)
