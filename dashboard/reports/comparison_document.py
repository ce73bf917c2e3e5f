"""The comparison of two runs, or of a run and its brief, as a document."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

from dashboard import words
from dashboard.core.base.caution import CAUTION
from dashboard.core.debrief.compare import Comparison, Pair
from dashboard.core.debrief.facts import Debrief
from dashboard.figures import as_run
from dashboard.reports.document import Column, Document, Heading, Paragraph, Part, Picture, Table, clean
from dashboard.reports.ledger_words import signed

PICTURE_WIDTH = 520.0
UNKNOWN = "not known"


def comparison_document(
    compared: Comparison, runs: Sequence[tuple[str, Debrief]], made_at: datetime, version: str
) -> Document:
    """Make the document of a comparison.

    Parameters
    ----------
    compared : Comparison
    runs : sequence of (str, Debrief)
        The runs whose lanes are drawn, with their names.
    made_at : datetime
        Aware; when the document is made.
    version : str
        Version of the program.

    Returns
    -------
    Document
    """
    title = clean(f"{compared.second} beside {compared.first}")
    return Document(
        title=title,
        subtitle=clean("; ".join(f"{name}: sortie {facts.sortie}, {facts.title or 'no title'}" for name, facts in runs) + "."),
        made=f"Made at {words.date(made_at)} {words.utc_named(made_at)} by tetherline {version}",
        caution=clean(CAUTION),
        running=title,
        parts=(*_ends(compared), *_lost(compared), *_tasks(compared), *_left(compared), *_drawn(runs)),
    )


def _ends(compared: Comparison) -> Iterator[Part]:
    yield Heading("Ends")
    rows = [("Crew", compared.end_pet_min), *compared.lanes.items()]
    yield _table(
        (Column("", 3), *_heads(compared, ", PET"), Column("Difference", 4)),
        [(name, *ends_said(pair)) for name, pair in rows],
    )


def _lost(compared: Comparison) -> Iterator[Part]:
    if not compared.lost_min:
        return
    yield Heading("Where the minutes went")
    yield Paragraph("Minutes against the brief of each run: + lost, - gained.")
    rows = [
        (lane, kind, _signed(pair.first), _signed(pair.second), _signed(pair.difference))
        for lane, kinds in compared.lost_min.items() for kind, pair in kinds.items()
    ]
    yield _table((Column("Lane", 2), Column("", 4), *_heads(compared, ", min", True), Column("Difference, min", 3, True)), rows)


def _tasks(compared: Comparison) -> Iterator[Part]:
    yield Heading("Tasks in both")
    yield Paragraph("The largest difference in length first.")
    rows = [
        (one.task, one.title, _from(one.start_pet_min.first, one.worked_min.first),
         _from(one.start_pet_min.second, one.worked_min.second), words.compared(one.worked_min.difference, "longer", "shorter"))
        for one in compared.tasks
    ]  # fmt: skip
    if rows:
        yield _table((Column("Task", 2), Column("", 6), *_heads(compared, ""), Column("Length", 3)), rows)
    else:
        yield Paragraph("No task was begun in both.")


def _left(compared: Comparison) -> Iterator[Part]:
    yield Heading("Not in both")
    for name, only, left in (
        (compared.first, compared.only_first, compared.left_first), (compared.second, compared.only_second, compared.left_second),
    ):  # fmt: skip
        yield Paragraph(clean(f"Only in {name}: {_listed(only)} Left to the next sortie: {_listed(left)}"))


def _drawn(runs: Sequence[tuple[str, Debrief]]) -> Iterator[Part]:
    for name, facts in runs:
        drawings = as_run.as_run(facts, PICTURE_WIDTH)
        if drawings:
            yield Heading(clean(f"Lanes of {name} against its brief"), new_page=True)
            yield Picture(tuple(drawings), as_run.CAPTION)


def _heads(compared: Comparison, unit: str, figures: bool = False) -> tuple[Column, Column]:
    first, second = (Column(clean(f"{name}{unit}"), 4, figures) for name in (compared.first, compared.second))
    return first, second


def ends_said(pair: Pair) -> tuple[str, str, str]:
    """Two ends in words.

    Parameters
    ----------
    pair
        PET minutes.

    Returns
    -------
    tuple of str
        The first, the second, and the difference.
    """
    return _pet(pair.first), _pet(pair.second), words.compared(pair.difference, "later", "earlier")


def _pet(minutes: float | None) -> str:
    return UNKNOWN if minutes is None else words.pet(minutes, "nearest")


def _signed(minutes: float | None) -> str:
    return UNKNOWN if minutes is None else signed(minutes)


def _from(start: float | None, worked: float | None) -> str:
    begun = "start not entered" if start is None else f"from {words.pet_named(start)}"
    return f"{begun}, {words.duration(worked) if worked is not None else 'length not known'}"


def _listed(tasks: Sequence[str]) -> str:
    return f"{', '.join(tasks)}." if tasks else "nothing."


def _table(columns: tuple[Column, ...], rows: Sequence[tuple[str, ...]]) -> Table:
    return Table(columns, tuple(tuple(clean(cell) for cell in row) for row in rows))
