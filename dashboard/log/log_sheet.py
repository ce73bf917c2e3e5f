"""Reads logs kept in a spreadsheet (CSV or XLSX): one row per entry, with time, who, what and free text.

Nothing is guessed. `log_sheet_words` finds what a row means; what merely comes close is offered in the report and is not used. A
row that is no other event is kept as a note. A row whose time cannot be read is kept as a line that could not be understood.
Both are kept word for word.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from dashboard.core.base.findings import Unread
from dashboard.core.base.problems import InputError, Problem, did_you_mean
from dashboard.core.base.times import instant_text, parse_minutes
from dashboard.core.events.clock import ClockSet
from dashboard.core.events.event import Event
from dashboard.core.events.kinds import parse_event
from dashboard.core.events.note import Note
from dashboard.core.plan.model import Plan
from dashboard.log.headings import JOINED
from dashboard.log.limits import LOG_SHEET
from dashboard.log.log_sheet_columns import ABOUT, CLOCK_TIMES_OF_COLUMN, columns_of, fits_log
from dashboard.log.log_sheet_options import SheetOptions
from dashboard.log.log_sheet_times import MeaningOfTimesMissing, RowTimes, on_day
from dashboard.log.log_sheet_words import Phrases, words_only
from dashboard.log.rows import EMPTY, Cell, Row, cell_text
from dashboard.log.table import Table, read_table
from dashboard.log.textfile import refusal

_ZERO_ABOVE = re.compile(
    r"\bpet\s*(?:zero|0+(?::00)*)\s*(?:\(?utc\)?)?\s*(?:[=:]|at|is)?\s*(?P<time>(?:[01]?\d|2[0-3]):[0-5]\d)(?!:?\d)",
    re.IGNORECASE,
)
_TIME_OF_DAY = re.compile(r"^([01]?\d|2[0-3]):[0-5]\d(:[0-5]\d)?$")


class Unmatched(NamedTuple):
    """A row that seems to say more than a note, but was kept as one: its words, the reason, and names that come close."""

    row: int
    words: str
    why: str
    near: tuple[str, ...]


@dataclass
class LogSheet:
    """The content of a log sheet: events in the order of its rows, lines not understood, and what a person should look at."""

    events: list[Event] = field(default_factory=list)
    unread: list[Unread] = field(default_factory=list)
    unmatched: list[Unmatched] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)

    @property
    def notes(self) -> int:
        """How many rows were kept as notes."""
        return sum(isinstance(event, Note) for event in self.events)


def read_log_sheet(path: Path, plan: Plan, options: SheetOptions | None = None) -> LogSheet:
    """Read a log sheet.

    Parameters
    ----------
    path
        The sheet, CSV or XLSX.
    plan
        The plan that the sortie was run by.
    options
        What the sheet does not say of itself; None: nothing is added.

    Returns
    -------
    LogSheet
        With at least one event.

    Raises
    ------
    InputError
        When the file cannot be such a sheet, when a column is missing or named twice, when it is not known what the clock times
        mean, or when an option names what the plan or the sheet does not have.
    """
    options = options or SheetOptions()
    table = read_table(path, LOG_SHEET, fits=fits_log(options))
    columns = columns_of(table, options)
    known = {*plan.all_tasks(), *(one.id for one in plan.contingencies)}
    for words, name in options.matches.items():
        if name not in known:
            expected = "the name of a task or contingency of the plan"
            raise InputError([Problem("option --match", expected, f"'{words}' -> '{name}'", did_you_mean(name, known))])
    return _Reader(table, plan, options, columns).read()


class _Reader:
    """Reads the rows of one sheet."""

    def __init__(self, table: Table, plan: Plan, options: SheetOptions, columns: dict[str, int]) -> None:
        self.table, self.plan, self.options, self.columns = table, plan, options, columns
        time_column = table.columns[columns["time"]]
        names = (words_only(part) for part in (time_column, *reversed(time_column.split(JOINED))))
        meaning = next((CLOCK_TIMES_OF_COLUMN[name] for name in names if name in CLOCK_TIMES_OF_COLUMN), None)
        self.zero_above = self._zero_above()
        self.times = RowTimes(options.times or meaning, self._pet_zero(), options.day or plan.sortie.start.date())
        self.phrases = Phrases(plan, options.matches)
        self.log = LogSheet(remarks=self.times.remarks)
        self.by_merging = {
            (number, one.first_column) for one in table.merged for number in range(one.first_row + 1, one.last_row + 1)
        }
        for row in table.above:
            said = " | ".join(words for cell in row.cells if (words := cell_text(cell)))
            self.log.remarks.append(f"Row {row.number} stands above the headings and is no entry: '{said}'.")

    def read(self) -> LogSheet:
        for row in self.table.rows:
            self._row(row)
        if not self.log.events:
            first = self.log.unread[0].why if self.log.unread else "no row"
            raise refusal(
                self.table.path, LOG_SHEET.what, f"no row that can be read ({first})", "Check its columns and times."
            )
        self._add_clock()
        return self.log

    def _pet_zero(self) -> datetime:
        """PET zero as it is needed to read PETs."""
        given, start, day = self.options.pet_zero or self.zero_above, self.plan.sortie.start, self.options.day
        if given is not None:
            if not _TIME_OF_DAY.match(given.strip()):
                expected = "a time of day (UTC), 0:00 to 23:59"
                raise InputError([Problem("option --pet-zero", expected, f"'{given}'", "For instance --pet-zero 9:07.")])
            return on_day(day or start.date(), parse_minutes(given))
        return datetime.combine(day, start.timetz()) if day else start

    def _zero_above(self) -> str | None:
        """The time of day of PET zero, where a row above the headings gives it, such as `PET 0 = 09:07 UTC`."""
        for row in self.table.above:
            if found := _ZERO_ABOVE.search(" ".join(cell_text(cell) for cell in row.cells)):
                return found["time"]
        return None

    def _add_clock(self) -> None:
        """Add a clock event to a log that was read by PET, or for which PET zero was given; the report says so."""
        if any(isinstance(event, ClockSet) for event in self.log.events):
            return
        given = self.options.pet_zero is not None or self.zero_above is not None
        if self.times.meaning != "pet" and not self.times.by_pet and not given:
            self.log.remarks.append("No row gives PET zero: PET counts from the planned start. Set it with --pet-zero.")
            return
        zero = instant_text(self.times.pet_zero)
        how = "the planned time of day; no row gives it"
        if given:
            how = "as given" if self.options.pet_zero is not None else "as a row above the headings says"
        self.log.remarks.append(f"PET zero is taken as {zero}: {how}.")
        clock = {"id": "row1", "at": zero, "kind": "clock", "by": "import", "note": "PET zero of the imported log"}
        self.log.events.insert(0, parse_event(clock))

    def _row(self, row: Row) -> None:
        try:
            at = self._instant(row)
        except ValueError as wrong:
            width = max(len(self.table.columns), len(row.cells))
            line = " | ".join(cell_text(_cell(row, index)) for index in range(width))
            self.log.unread.append(Unread(line=line, why=f"time: expected {wrong}", where=f"row {row.number}"))
            return
        cells = {
            name: "" if name in ("what", "text") and (row.number, index) in self.by_merging else cell_text(_cell(row, index))
            for name, index in self.columns.items() if name != "time"
        }
        what = f"{cells.get(ABOUT, '')} {cells['what']}".strip()
        meaning = self.phrases.meaning(what, cells.get("text", ""))
        if meaning.not_taken is not None:
            self.log.unmatched.append(Unmatched(row.number, *meaning.not_taken))
        raw = {"id": f"row{row.number}", "at": instant_text(at), **meaning.fields}
        others = [
            f"{self._column_name(index)}: {words}" for index, cell in enumerate(row.cells)
            if index not in self.columns.values() and (words := cell_text(cell))
        ]
        if others:
            raw["note"] = "; ".join([*([raw["note"]] if "note" in raw else []), *others])
        if cells.get("who"):
            raw["by"] = cells["who"]
        event = parse_event(raw)
        if isinstance(event, ClockSet) and not self.times.is_pet:
            self.times.pet_zero = event.at  # the PETs of the rows below count from it
        self.log.events.append(event)

    def _column_name(self, index: int) -> str:
        named = index < len(self.table.columns) and self.table.columns[index]
        return named or f"column {self.table.column_name(index)}"

    def _instant(self, row: Row) -> datetime:
        try:
            return self.times.instant(_cell(row, self.columns["time"]))
        except MeaningOfTimesMissing as clock_time:
            column = self.table.column_name(self.columns["time"])
            raise InputError([Problem(
                "times of the sheet", "the option --times, which says whether they are PET or UTC",
                f"'{clock_time}' in column '{column}'", "Give --times pet or --times utc.", self.table.place(row.number, column),
            )]) from None


def _cell(row: Row, index: int) -> Cell:
    return row.cells[index] if index < len(row.cells) else EMPTY
