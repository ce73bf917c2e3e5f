"""Writes the debrief as tables, in XLSX and CSV: one row per item, times in PET minutes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from io import BytesIO
from typing import Any

import pandas as pd
from openpyxl.styles import Font  # type: ignore[import-untyped]
from openpyxl.utils import get_column_letter  # type: ignore[import-untyped]

from dashboard.core.base.findings import Discrepancy, Unread
from dashboard.core.base.times import instant_text
from dashboard.core.debrief.facts import Debrief, DecisionFact, LedgerLine, LeftTask, ProjectionPoint, SuitUse
from dashboard.log.csv_texts import guarded
from dashboard.reports.document import clean

LONGEST_CELL = 32_000  # XLSX cells hold no longer text
WIDEST = 60

Rows = list[dict[str, Any]]

# Headings of tables that may be empty.
COLUMNS: Mapping[str, Sequence[str]] = {
    "minutes": ("lane", *LedgerLine.model_fields),
    "decisions": tuple(DecisionFact.model_fields),
    "projections": tuple(ProjectionPoint.model_fields),
    "suits": tuple(SuitUse.model_fields),
    "carry_over": tuple(name for name in LeftTask.model_fields if name != "given"),
    "do_not_fit": tuple(Discrepancy.model_fields),
    "not_read": tuple(Unread.model_fields),
}


def frames(facts: Debrief, made_at: datetime, version: str) -> dict[str, pd.DataFrame]:
    """Make every table.

    Parameters
    ----------
    facts : Debrief
    made_at : datetime
        Aware.
    version : str
        Version of the program.

    Returns
    -------
    dict of str to DataFrame
        By name. The first, ``about``, describes the sortie and the units.
    """
    lanes = facts.lanes.items()
    rows: dict[str, Rows] = {
        "about": _about(facts, made_at, version),
        "lanes": [
            {"lane": name, **lane.model_dump(exclude={"tasks", "segments", "briefed", "ledger"})} for name, lane in lanes
        ],
        "tasks": [{"lane": name, **_flat(row.model_dump())} for name, lane in lanes for row in lane.tasks],
        "stretches": [
            {"lane": name, "as": what, **part.model_dump(), "minutes": part.minutes}
            for name, lane in lanes
            for what, parts in (("briefed", lane.briefed), ("run", lane.segments))
            for part in parts
        ],
        "minutes": [{"lane": name, **line.model_dump()} for name, lane in lanes for line in lane.ledger],
        "decisions": [_flat(one.model_dump(mode="json")) for one in facts.decisions],
        "projections": [_flat(one.model_dump()) for one in facts.projections],
        "suits": [_flat(one.model_dump()) for one in facts.suits],
        "carry_over": [_flat(one.model_dump(exclude={"given"})) for one in facts.carry_over],
        "do_not_fit": [one.model_dump(mode="json") for one in facts.discrepancies],
        "not_read": [one.model_dump() for one in facts.unread],
    }
    return {name: _frame(found, COLUMNS.get(name, ())) for name, found in rows.items()}


def csv_texts(facts: Debrief, made_at: datetime, version: str) -> dict[str, str]:
    """Every table as CSV. The first line is a comment (``#``) with the caution; the headings follow.

    Parameters
    ----------
    facts
        The debrief.
    made_at
        Aware; when the tables are made.
    version
        Of the program.

    Returns
    -------
    dict of str to str
        Name of the table -> its CSV text.
    """
    top = clean(f"# Sortie {facts.sortie}. {facts.said_above}").replace("\n", " ")
    return {
        name: f"{top}\n{frame.map(guarded).to_csv(index=False, lineterminator=chr(10))}"
        for name, frame in frames(facts, made_at, version).items()
    }


def xlsx(facts: Debrief, made_at: datetime, version: str) -> bytes:
    """Every table as a sheet of one workbook, as XLSX. Every sheet shows the caution above the headings.

    Parameters
    ----------
    facts
        The debrief.
    made_at
        Aware; when the tables are made.
    version
        Of the program.

    Returns
    -------
    bytes
        The content of the file. A text that is too long for a cell is cut, and the cell says so.
    """
    buffer = BytesIO()
    with pd.ExcelWriter(buffer, engine="openpyxl") as book:
        for name, frame in frames(facts, made_at, version).items():
            frame.map(_cell).to_excel(book, sheet_name=name, index=False, startrow=1)
            _finish(book.sheets[name], f"Sortie {facts.sortie}. {facts.said_above}", frame)
    return buffer.getvalue()


def _about(facts: Debrief, made_at: datetime, version: str) -> Rows:
    said = {
        "sortie": facts.sortie,
        "title": facts.title,
        "rehearsal": facts.rehearsal or "no",
        "made_at": instant_text(made_at.replace(microsecond=0)),
        "made_by": f"tetherline {version}",
        "pet_zero": instant_text(facts.pet_zero),
        "as_of": instant_text(facts.now),
        "ended": "no: so far" if facts.so_far else "yes",
        "rests_on": f"{facts.basis}, {facts.events} events",
        "limit_pet_min": facts.limit.pet_min,
        "limit_set_by": facts.limit.set_by,
        **{f"end_{key}": value for key, value in facts.end.model_dump().items()},
        "units": "PET and lengths in minutes; kg, or Wh for the battery; differences are actual less briefed",
        "caution": facts.caution,
    }
    return [{"what": key, "value": value} for key, value in said.items()]


def _flat(row: dict[str, Any]) -> dict[str, Any]:
    """One level of columns: a list becomes words, a mapping becomes one column per key."""
    found: dict[str, Any] = {}
    for key, value in row.items():
        if isinstance(value, dict) and key != "chosen":
            found |= {f"{key}.{part}": inner for part, inner in value.items()}
        elif isinstance(value, list):
            found[key] = " ".join(str(part) for part in value) if key != "flags" else "; ".join(value)
        else:
            found[key] = value if key != "chosen" or value is None else str(value)
    return found


def _frame(rows: Rows, columns: Sequence[str]) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=None if rows else list(columns))
    for column in frame.columns:
        frame[column] = [_tidy(value) for value in frame[column]]
    return frame


def _tidy(value: Any) -> Any:
    if isinstance(value, float):
        return round(value, 4)
    return clean(value) if isinstance(value, str) else value


def _cell(value: Any) -> Any:
    if isinstance(value, str) and len(value) > LONGEST_CELL:
        return f"{value[:LONGEST_CELL]} ... ({len(value) - LONGEST_CELL} more characters in the CSV table)"
    return value


def _finish(sheet: Any, top: str, frame: pd.DataFrame) -> None:
    """Caution on top, head in sight, columns as wide as their content, and no text taken for a formula."""
    sheet["A1"] = clean(top)
    sheet["A1"].font = Font(bold=True)
    sheet.freeze_panes = "A3"
    for row in sheet.iter_rows():
        for cell in row:
            if cell.data_type == "f":
                cell.data_type = "s"
    for place, column in enumerate(frame.columns, start=1):
        widest = max([len(str(column)), *(len(str(value)) for value in frame[column])])
        sheet.column_dimensions[get_column_letter(place)].width = min(WIDEST, widest + 2)
