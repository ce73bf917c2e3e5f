"""What a plan can bear, as a document of plain parts: a picture, and a table for each question."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

from dashboard import words
from dashboard.core.outlook.bear_model import Bears, Cut, HourBack
from dashboard.figures.bear import CAPTION, bear_sheet
from dashboard.reports.document import Column, Document, Heading, Paragraph, Part, Picture, Table, clean

WIDTH = 520.0
NOT_CHEAPEST = "What goes was found at once and is not proven to cost least; --proven takes longer and proves it."


def bear_document(bears: Bears, made_at: datetime, version: str) -> Document:
    """The document.

    Parameters
    ----------
    bears
        What the plan can bear.
    made_at
        Aware.
    version
        Version of the program.

    Returns
    -------
    Document
    """
    title = clean(bears.title or bears.sortie)
    return Document(
        title=f"What the plan can bear: {title}",
        subtitle=clean(f"Sortie {bears.sortie}, as briefed. {summary(bears)}"),
        made=f"Made at {words.date(made_at)} {words.utc_named(made_at)} by tetherline {version}",
        caution=bears.caution,
        running=clean(f"Sortie {bears.sortie}, what the plan can bear"),
        parts=(*_picture(bears), *bear_parts(bears)),
    )


def summary(bears: Bears) -> str:
    """The answer in a few sentences.

    Parameters
    ----------
    bears
        What the plan can bear.

    Returns
    -------
    str
    """
    if bears.in_by_limit is None:
        return "No work of the crew is in the plan of record."
    said = [
        f"As briefed {words.chance(bears.in_by_limit)} likely in by {words.pet_named(bears.limit_pet_min)} with every suit above "
        f"its reserve, wanted {words.chance(bears.confidence)}."
    ]
    slack = [task for task in bears.tasks if task.slack_min is not None]
    if slack:
        least = min(slack, key=lambda task: task.slack_min or 0.0)
        name = f"{least.task} {least.title}".rstrip()
        minutes = least.slack_min or 0.0
        late = f"{words.duration(-minutes, 'up')} too late as briefed"
        said.append(f"Least slack: {name}, {late if minutes < 0 else words.duration(minutes, 'down')}.")
    if bears.worst:
        worst = bears.worst[0]
        after = words.chance(worst.in_by_limit_after)
        said.append(
            f"The delay that hurts most: {words.duration(worst.delay_min)} before {worst.task} {worst.title}".rstrip()
            + f", then {after} likely in time."
        )
    return " ".join(said)


def bear_parts(bears: Bears) -> list[Part]:
    """The tables, each under its heading.

    Parameters
    ----------
    bears
        What the plan can bear.

    Returns
    -------
    list of Part
    """
    parts: list[Part] = []
    for heading, say, table in (
        ("How late each task may start", "Of a sortie that has gone as planned until then. What goes when it starts 15 min later "
         "still is found at plan pace.", _tasks(bears)),
        ("What lost time costs", "Everybody stands still at this PET, in a sortie that has gone as planned until then.",
         _lost(bears)),
        ("The delays that hurt most", "Time lost right before one task, in the brief at PET zero.", _worst(bears)),
        ("Turn back", _turn_back(bears), _hours(bears)),
        ("Leave by", "The latest time to have left each worksite.", _leave_by(bears)),
        ("What certainty costs", "What would have to go at PET zero.", _ladder(bears)),
    ):
        if table.rows:
            parts += [Heading(heading), Paragraph(clean(say), "small"), table]
    if any(cut is not None and cut.goes and not cut.proven for cut in _cuts(bears)):
        parts.append(Paragraph(NOT_CHEAPEST, "small"))
    parts += [Paragraph(clean(f"Left out: {said}."), "small") for said in bears.left_out]
    return parts


def _picture(bears: Bears) -> Iterator[Part]:
    drawing = bear_sheet(bears, WIDTH)
    if drawing is not None:
        yield Picture((drawing,), CAPTION)


def _cuts(bears: Bears) -> list[Cut | None]:
    return [*(one.cut for one in bears.lost), *(step.cut for step in bears.ladder)]


def _goes(cut: Cut | None) -> str:
    """What goes, in words."""
    if cut is None:
        return "not worked out"
    if not cut.reached:
        return "nothing that may go is enough"
    lost = words.listed([f"{value:g} of priority {priority}" for priority, value in cut.value_lost.items() if value > 0])
    return "; ".join(cut.goes) + (f" (costs {lost})" if lost else "") if cut.goes else "nothing"


def _table(columns: Sequence[tuple[str, float, bool]], rows: Sequence[Sequence[str]]) -> Table:
    return Table(
        tuple(Column(head, share, figures) for head, share, figures in columns),
        tuple(tuple(clean(cell) for cell in row) for row in rows),
    )


def _tasks(bears: Bears) -> Table:
    rows = []
    for task in bears.tasks:
        late = task.slack_min is not None and task.slack_min < 0
        slack = "" if task.slack_min is None else words.duration(abs(task.slack_min), "up" if late else "down")
        rows.append((
            f"{task.task} {task.title}".rstrip(), ", ".join(task.lanes), words.pet(task.start_pet_min, "nearest"),
            "no limit" if task.latest_start_pet_min is None else words.pet(task.latest_start_pet_min),
            f"{slack} late" if late else slack, "" if task.latest_start_pet_min is None else _goes(task.cut),
        ))  # fmt: skip
    columns = (("Task", 5, False), ("Lanes", 2, False), ("Starts, PET", 1.6, True), ("Latest, PET", 1.6, True),
               ("Between", 1.8, True), ("Goes first", 7, False))
    return _table(columns, rows)


def _lost(bears: Bears) -> Table:
    rows = [
        (
            words.pet(one.pet_min), words.duration(one.lost_min), words.chance(one.in_by_limit_before),
            words.chance(one.in_by_limit_after),
            "" if one.end_later_min is None else words.duration(max(0.0, one.end_later_min)), _goes(one.cut),
        )
        for one in bears.lost
    ]
    columns = (("PET", 1.2, True), ("Lost", 1.4, True), ("In time before", 1.8, True), ("In time after", 1.8, True),
               ("End later by", 1.8, True), ("Goes, to be as sure as wanted", 8, False))
    return _table(columns, rows)


def _worst(bears: Bears) -> Table:
    rows = [
        (
            f"{one.task} {one.title}".rstrip(), words.duration(one.delay_min), words.chance(one.in_by_limit_before),
            words.chance(one.in_by_limit_after), words.duration(max(0.0, one.end_later_min)),
            ", ".join(one.window_missed),
        )
        for one in bears.worst
    ]
    columns = (("Before task", 6, False), ("Lost", 1.4, True), ("In time before", 1.8, True), ("In time after", 1.8, True),
               ("End later by", 1.8, True), ("No window left for", 3, False))
    return _table(columns, rows)


def _turn_back(bears: Bears) -> str:
    if bears.turn_back_pet_min is None:
        return "Nobody is out."
    return (
        f"The crew can turn back until {words.pet_named(bears.turn_back_pet_min)}, set by {bears.turn_back_set_by}. "
        "At each hour, what is to spare when it is in."
    )


def _hours(bears: Bears) -> Table:
    lanes = list(bears.hours[0].places) if bears.hours else []
    rows = [
        (
            words.pet(one.pet_min), *(_where(one, lane) for lane in lanes),
            f"{words.duration(-one.spare_min, 'up')} too late" if one.spare_min < 0 else words.duration(one.spare_min, "down"),
            one.set_by,
        )
        for one in bears.hours
    ]
    columns = (("PET", 1.2, True), *((lane, 3.0, False) for lane in lanes), ("To spare", 2.4, True), ("Set by", 5, False))
    return _table(columns, rows)


def _where(one: HourBack, lane: str) -> str:
    site, back = one.places[lane], one.back_min[lane]
    return (site or "not known") + (f", {words.duration(back, 'up')} back" if back else "")


def _leave_by(bears: Bears) -> Table:
    rows = [
        (
            one.worksite, words.pet(one.leave_by_pet_min),
            words.NOT_KNOWN if one.leaves_pet_min is None else words.pet(one.leaves_pet_min, "up"), one.set_by or "",
        )
        for one in bears.leave_by
    ]
    columns = (("Worksite", 3, False), ("Leave by, PET", 2, True), ("Expected to be left, PET", 2.6, True), ("Set by", 6, False))
    return _table(columns, rows)


def _ladder(bears: Bears) -> Table:
    rows = [
        (
            "at plan pace" if step.wanted is None else words.chance(step.wanted), _goes(step.cut),
            "" if step.cut.in_by_limit is None else words.chance(step.cut.in_by_limit),
        )
        for step in bears.ladder
    ]
    return _table((("To be in time", 2, False), ("Goes", 10, False), ("Then in time", 2, True)), rows)
