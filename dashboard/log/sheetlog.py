"""Logs kept in a spreadsheet: time, who, what and free text, one row an entry, as CSV or XLSX.

Nothing is guessed silently. What a row means is told by `sheetwords`; what merely comes close is offered in the report and
not taken. A row that is no other event is kept as a note, a row without a time that can be read as a line that could not be
understood, both word for word.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any, Literal, NamedTuple

import pandas as pd

from dashboard.core.base.findings import Unread
from dashboard.core.base.problems import InputError, Problem, did_you_mean
from dashboard.core.base.times import instant_text, parse_instant, parse_minutes, plus_minutes
from dashboard.core.events.clock import ClockSet
from dashboard.core.events.event import Event
from dashboard.core.events.kinds import parse_event
from dashboard.core.events.note import Note
from dashboard.core.plan.model import Plan
from dashboard.log.sheetwords import Phrases, plain
from dashboard.log.textfile import read_file, read_text, refusal

WHAT = "a log sheet (CSV or XLSX)"
LARGEST_MB = 20.0
MOST_ROWS = 50_000
DELIMITERS = ",;\t"
UNNAMED = "column"
SPREADSHEET_YEAR_ZERO = 1900
HALF_A_DAY = timedelta(hours=12)

Times = Literal["pet", "utc"]
FIELDS = ("time", "who", "what", "text")
NAMES: Mapping[str, tuple[str, ...]] = {
    "time": ("time", "pet", "utc", "at", "when", "clock", "time utc", "time pet", "pet time", "utc time"),
    "who": ("who", "by", "from", "caller", "crew", "lane", "position", "name"),
    "what": ("what", "event", "action", "entry", "status", "task", "item", "activity"),
    "text": ("text", "note", "notes", "remark", "remarks", "comment", "comments", "details", "description"),
}
TIMES_OF_COLUMN: Mapping[str, Times] = {
    "pet": "pet",
    "time pet": "pet",
    "pet time": "pet",
    "utc": "utc",
    "time utc": "utc",
    "utc time": "utc",
}
_TIME_OF_DAY = re.compile(r"^([01]?\d|2[0-3]):[0-5]\d(:[0-5]\d)?$")
_DATED = re.compile(r"\d{4}-\d")


class Unmatched(NamedTuple):
    """A row that seems to say more than a note, and was kept as one: its words, why, and the names that come close."""

    row: int
    words: str
    why: str
    near: tuple[str, ...]


@dataclass
class SheetLog:
    """What a log sheet holds: events in the order of its rows, lines not understood, and what to look at."""

    events: list[Event] = field(default_factory=list)
    unread: list[Unread] = field(default_factory=list)
    unmatched: list[Unmatched] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    @property
    def notes(self) -> int:
        """How many rows were kept as notes."""
        return sum(isinstance(event, Note) for event in self.events)


@dataclass(frozen=True)
class Reading:
    """How a sheet is to be read.

    Parameters
    ----------
    columns : mapping
        Name of a column for some of `FIELDS`; the others go by their common names.
    times : str or None
        What a clock time such as 1:50 means: `pet`, or `utc` as a time of day. None: the name of the column says.
    day : date or None
        Day of the run; None: that of the planned start.
    pet_zero : str or None
        Time of day (UTC) of PET zero, where no row gives it.
    matches : mapping
        Words of the sheet, and the task or contingency that they mean.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    times: Times | None = None
    day: date | None = None
    pet_zero: str | None = None
    matches: Mapping[str, str] = field(default_factory=dict)


def read_log_sheet(path: Path, plan: Plan, how: Reading | None = None) -> SheetLog:
    """Read a log sheet.

    Raises
    ------
    InputError
        When it cannot be such a sheet, a column is missing or named twice, or what its clock times mean is not said.
    """
    how = how or Reading()
    table = _table(path)
    columns = _columns(path, table, how)
    times = how.times or TIMES_OF_COLUMN.get(plain(columns["time"]))
    known = {*plan.all_tasks(), *(one.id for one in plan.contingencies)}
    for words, name in how.matches.items():
        if name not in known:
            expected = "the name of a task or contingency of the plan"
            raise InputError([Problem("option --match", expected, f"'{words}' -> '{name}'", did_you_mean(name, known))])
    return _Reader(path, plan, how, times, columns).read(table)


# --- the table ------------------------------------------------------------------------------------


def _table(path: Path) -> pd.DataFrame:
    """The sheet as text and spreadsheet values, first row as names, empty cells as empty text."""
    if path.suffix.lower() == ".xlsx":
        data = read_file(path, WHAT, LARGEST_MB)
        if not data.startswith(b"PK"):
            raise refusal(path, WHAT, "a file of another kind", "Save the sheet as XLSX or CSV.")
        try:
            table = pd.read_excel(io.BytesIO(data), dtype=object, keep_default_na=False, nrows=MOST_ROWS)
        except Exception as wrong:  # noqa: BLE001 - the reader raises whatever its parts raise
            raise refusal(
                path, WHAT, f"a damaged file ({type(wrong).__name__})", "Save the sheet again."
            ) from None
    else:
        table = _csv_table(path)
    if len(table) >= MOST_ROWS:
        raise refusal(path, f"{WHAT} of fewer than {MOST_ROWS} rows", "more", "Take the other rows out.")
    return table.astype(object).where(table.notna(), "")


def _csv_table(path: Path) -> pd.DataFrame:
    """The rows as they stand; cells beyond the header get a column `UNNAMED` of their own, so that none is lost."""
    text = read_text(path, WHAT, LARGEST_MB)
    first = text.lstrip().split("\n", 1)[0]
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=max(DELIMITERS, key=first.count), strict=True))
    except csv.Error as wrong:
        found = f"text that is not CSV ({wrong})"
        raise refusal(path, WHAT, found, "Check the quotes, or save the sheet again as CSV.") from None
    width = max(map(len, rows))
    names = [*rows[0], *(f"{UNNAMED} {number}" for number in range(len(rows[0]) + 1, width + 1))]
    return pd.DataFrame([row + [""] * (width - len(row)) for row in rows[1:]], columns=names, dtype=object)


def _columns(path: Path, table: pd.DataFrame, how: Reading) -> dict[str, str]:
    """Field -> column of the sheet."""
    there = [str(column) for column in table.columns]
    found: dict[str, str] = {}
    problems = []
    for name, column in how.columns.items():
        if name not in FIELDS:
            problems.append(
                Problem(
                    "option --columns", f"one of {', '.join(FIELDS)}", f"'{name}'", did_you_mean(name, FIELDS)
                )
            )
        elif column not in there:
            problems.append(
                Problem(
                    f"option --columns, {name}",
                    "the name of a column of the sheet",
                    f"'{column}'",
                    did_you_mean(column, there),
                    str(path),
                )
            )
        else:
            found[name] = column
    for name in (name for name in FIELDS if name not in found):
        fits = [column for column in there if plain(column) in NAMES[name] and column not in found.values()]
        if len(fits) > 1:
            problems.append(
                Problem(
                    f"column for '{name}'",
                    "one column",
                    f"{len(fits)}: {', '.join(fits)}",
                    f"Say which: --columns {name}={fits[0]}",
                    str(path),
                )
            )
        elif fits:
            found[name] = fits[0]
    for name in ("time", "what"):
        if name not in found and not problems:
            problems.append(
                Problem(
                    f"column for '{name}'",
                    f"a column named {', '.join(NAMES[name][:4])} or the like",
                    f"columns {', '.join(there)}",
                    f"Say which: --columns {name}=...",
                    str(path),
                )
            )
    if problems:
        raise InputError(problems)
    return found


# --- the rows -------------------------------------------------------------------------------------


class _Reader:
    """Goes through the rows, remembering the day that the times of day have come to."""

    def __init__(
        self, path: Path, plan: Plan, how: Reading, times: Times | None, columns: Mapping[str, str]
    ) -> None:
        self.path, self.plan, self.how, self.times, self.columns = path, plan, how, times, columns
        self.day = how.day or plan.sortie.start.date()
        self.last: datetime | None = None
        self.log = SheetLog()
        self.phrases = Phrases(plan, how.matches)
        self.zero = self._zero()

    def read(self, table: pd.DataFrame) -> SheetLog:
        for place, row in enumerate(table.itertuples(index=False, name=None), start=2):
            if any(str(cell).strip() for cell in row):
                self._row(place, dict(zip(map(str, table.columns), row, strict=True)))
        if not self.log.events:
            first = self.log.unread[0].why if self.log.unread else "no row"
            raise refusal(
                self.path, WHAT, f"no row that can be read ({first})", "Check its columns and times."
            )
        self._clock()
        return self.log

    def _zero(self) -> datetime:
        """PET zero as far as it is needed to read PETs."""
        given = self.how.pet_zero
        if given is not None:
            if not _TIME_OF_DAY.match(given.strip()):
                expected = "a time of day (UTC), 0:00 to 23:59"
                raise InputError([Problem("option --pet-zero", expected, f"'{given}'", "For instance --pet-zero 9:07")])
            return _on(self.day, parse_minutes(given))
        start = self.plan.sortie.start
        return datetime.combine(self.day, start.timetz()) if self.how.day else start

    def _clock(self) -> None:
        """A log read by PET, or with PET zero given, gets a clock event; the report says so."""
        if any(isinstance(event, ClockSet) for event in self.log.events):
            return
        if self.times == "pet" or self.how.pet_zero is not None:
            given = (
                "as given"
                if self.how.pet_zero is not None
                else "the planned time of day; the sheet gives only PET"
            )
            self.log.said.append(f"PET zero is taken as {instant_text(self.zero)}: {given}.")
            note = "PET zero of the imported log"
            self.log.events.insert(
                0,
                parse_event(
                    {
                        "id": "row1",
                        "at": instant_text(self.zero),
                        "kind": "clock",
                        "by": "import",
                        "note": note,
                    }
                ),
            )
        else:
            self.log.said.append(
                "No row gives PET zero: PET counts from the planned start. Give --pet-zero to set it."
            )

    def _row(self, place: int, row: Mapping[str, Any]) -> None:
        cells = {name: _cell_text(row[column]) for name, column in self.columns.items() if name != "time"}
        try:
            at = self._instant(row[self.columns["time"]])
        except ValueError as wrong:
            line = " | ".join(_cell_text(cell) for cell in row.values())
            self.log.unread.append(Unread(line=line, why=f"time: expected {wrong}", where=f"row {place}"))
            return
        meaning = self.phrases.meaning(cells["what"], cells.get("text", ""))
        if meaning.not_taken is not None:
            self.log.unmatched.append(Unmatched(place, *meaning.not_taken))
        raw = {"id": f"row{place}", "at": instant_text(at), **meaning.fields}
        others = [
            f"{column}: {_cell_text(cell)}" for column, cell in row.items()
            if column not in self.columns.values() and _cell_text(cell)
        ]
        if others:
            raw["note"] = "; ".join([*([raw["note"]] if "note" in raw else []), *others])
        if cells.get("who"):
            raw["by"] = cells["who"]
        self.log.events.append(parse_event(raw))

    def _instant(self, cell: Any) -> datetime:
        if isinstance(cell, pd.Timestamp):
            cell = cell.to_pydatetime()
        if isinstance(cell, datetime) and cell.year > SPREADSHEET_YEAR_ZERO:
            if cell.tzinfo is None and self.times != "utc":
                raise ValueError(f"a time whose zone is said (--times utc), not {cell}")
            return cell.replace(tzinfo=UTC) if cell.tzinfo is None else cell.astimezone(UTC)
        text = _cell_text(cell)
        if not text:
            raise ValueError("a time, not an empty cell")
        if _DATED.match(text):
            return parse_instant(text)
        minutes = _minutes(cell)
        if self.times is None:
            raise InputError(
                [
                    Problem(
                        "times of the sheet",
                        "to be told whether they are PET or UTC",
                        f"'{text}' in column '{self.columns['time']}'",
                        "Say --times pet or --times utc.",
                        str(self.path),
                    )
                ]
            )
        return plus_minutes(self.zero, minutes) if self.times == "pet" else self._of_day(minutes)

    def _of_day(self, minutes: float) -> datetime:
        if not 0 <= minutes < 24 * 60:
            raise ValueError(f"a time of day, not {minutes:g} min")
        at = _on(self.day, minutes)
        if self.last is not None and at < self.last - HALF_A_DAY:
            self.day += timedelta(days=1)
            at = _on(self.day, minutes)
            self.log.said.append(
                f"After {self.last:%H:%M} comes {at:%H:%M}: taken as the next day, {self.day}."
            )
        self.last = at
        return at


def _on(day: date, minutes: float) -> datetime:
    return plus_minutes(datetime.combine(day, time(), UTC), minutes)


def _minutes(cell: Any) -> float:
    if isinstance(cell, datetime):
        return (cell - datetime(1899, 12, 31)).total_seconds() / 60
    if isinstance(cell, time):
        return cell.hour * 60 + cell.minute + cell.second / 60
    if isinstance(cell, timedelta):
        return cell.total_seconds() / 60
    text = _cell_text(cell)
    if ":" not in text:
        raise ValueError(f"a clock time such as \"1:50\", not '{text}'")
    return parse_minutes(text)


def _cell_text(cell: Any) -> str:
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return str(cell).strip()


def pairs_of(option: str, given: Sequence[str]) -> dict[str, str]:
    """``name=value`` words of an option, several in one separated by commas.

    Raises
    ------
    InputError
        When one of them is no such pair.
    """
    found = {}
    for part in (part for text in given for part in text.split(",")):
        name, equals, value = part.partition("=")
        if not equals or not name.strip() or not value.strip():
            raise InputError(
                [Problem(f"option {option}", "name=value", f"'{part}'", f"For instance {option} time=UTC")]
            )
        found[name.strip()] = value.strip()
    return found
