"""The debrief as a document: every section in words. All content comes from the `Debrief` facts."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime

from dashboard import story, words
from dashboard.core.base.wording import shortened
from dashboard.core.debrief.facts import (
    Debrief,
    DecisionFact,
    LaneDebrief,
    LedgerLine,
    LeftTask,
    SuitUse,
    TaskRow,
)
from dashboard.figures import as_run, foreseen
from dashboard.reports.debrief_first_page import first_page
from dashboard.reports.document import Column, Document, Heading, Paragraph, Part, Picture, Table, clean
from dashboard.reports.ledger_words import GROUPS, about, group_of, signed

PICTURE_WIDTH = 520.0
LEAST_LINE_MIN = 2.0
MOST_LINES = 6
MOST_SHOWN = 300


def debrief_document(facts: Debrief, made_at: datetime, version: str) -> Document:
    """Make the document of a debrief.

    Parameters
    ----------
    facts : Debrief
    made_at : datetime
        Aware; when the document is made.
    version : str
        Version of the program.

    Returns
    -------
    Document
    """
    so_far = " so far" if facts.so_far else ""
    debrief = "Debrief of a rehearsal" if facts.rehearsal else "Debrief"
    parts = (
        *_end(facts), *_ledger(facts), *_lanes_drawn(facts), *_as_run(facts), *_calls(facts), *_decisions(facts),
        *_foreseen(facts), *_suits(facts), *_carry_over(facts), *_questions(facts),
    )
    title = clean(facts.title or facts.sortie)
    return Document(
        title=f"{debrief}{so_far}: {title}",
        subtitle=clean(
            f"Sortie {facts.sortie}. PET zero {words.date(facts.pet_zero)} {words.utc_named(facts.pet_zero)}. "
            f"As of {words.pet_named(facts.pet_min)}; rests on {facts.basis} and {words.how_many(facts.events, 'event')}."
        ),
        made=f"Made at {words.date(made_at)} {words.utc_named(made_at)} by tetherline {version}",
        caution=clean(facts.said_above),
        running=clean(f"Sortie {facts.sortie}, {debrief.lower()}{so_far}"),
        parts=parts,
    )


# The end ----------------------------------------------------------------------------------------


def _end(facts: Debrief) -> Iterator[Part]:
    yield Heading("In short")
    yield from first_page(facts)
    yield Heading("Ends of the lanes", new_page=True)
    end, projected = facts.end, "projected at plan pace" if facts.so_far else "actual"
    if facts.so_far:
        yield Paragraph("The sortie has not ended: ends and minutes still to come are projected at plan pace.")
    said = f"End of the crew's work: {words.pet_named(end.pet_min, 'up' if facts.so_far else 'nearest')} ({projected})"
    said += f", briefed {words.pet_named(end.briefed_pet_min, 'nearest')}: {later(end.difference_min)}."
    if end.over_pet_min is not None:
        said += f" The end of the sortie was logged at {words.pet_named(end.over_pet_min)}."
    yield Paragraph(said)
    yield Paragraph(f"Limit: {words.pet_named(facts.limit.pet_min)}, set by {facts.limit.set_by}.")
    rows = [
        (name, words.pet(lane.briefed_end_pet_min, "nearest") if lane.briefed_end_pet_min is not None else "nothing briefed",
         words.pet(lane.end_pet_min, "nearest") if lane.end_pet_min is not None else "nothing done",
         later(lane.difference_min), _counted(lane))
        for name, lane in facts.lanes.items()
    ]  # fmt: skip
    columns = (
        Column("Lane", 2), Column("Briefed end, PET", 2, True), Column("End, PET", 2, True), Column("Against the brief", 3),
        Column("Tasks", 7),
    )
    yield _table(columns, rows)


def _counted(lane: LaneDebrief) -> str:
    states: dict[str, int] = {}
    for row in lane.tasks:
        if row.in_plan or row.state == "deferred":
            state = "get-ahead not done" if row.get_ahead and row.state == "not started" else row.state
            states[state] = states.get(state, 0) + 1
    return ", ".join(f"{count} {state}" for state, count in states.items()) or "none"


def later(minutes: float | None) -> str:
    """A difference against the brief: ``13 min later``, ``2 min earlier``, ``on the brief``.

    Parameters
    ----------
    minutes
        Actual less briefed; None: not known yet.

    Returns
    -------
    str
    """
    return words.compared(minutes, "later", "earlier")


# Lanes ------------------------------------------------------------------------------------------


def _lanes_drawn(facts: Debrief) -> Iterator[Part]:
    yield Heading("Lanes as run against the brief", new_page=True)
    drawn = as_run.as_run(facts, PICTURE_WIDTH)
    yield Picture(tuple(drawn), as_run.CAPTION) if drawn else Paragraph("Nothing is briefed and nothing was done.")


def _ledger(facts: Debrief) -> Iterator[Part]:
    yield Heading("Where the minutes went")
    lanes = {name: lane for name, lane in facts.lanes.items() if lane.difference_min is not None}
    if not lanes:
        yield Paragraph("No lane has both a briefed end and an end: nothing to compare.")
        return
    yield Paragraph(
        "Minutes against the brief: + lost, - gained. Each column adds up to the end of the lane less its briefed end. "
        "Tenths of a minute are shown so that the columns can be added; the entries are less precise than that."
    )
    rows, strong = _group_rows(lanes)
    columns = (Column("", 5), *(Column(f"{name}, min", 2, True) for name in lanes))
    yield Table(columns, tuple(rows), frozenset(strong))
    titles = _titles(facts)
    for name, lane in lanes.items():
        yield Heading(f"{clean(name)}: largest entries", 3)
        yield from _lines(lane.ledger, titles)


def _group_rows(lanes: Mapping[str, LaneDebrief]) -> tuple[list[tuple[str, ...]], list[int]]:
    rows: list[tuple[str, ...]] = []
    for group in GROUPS:
        sums = [[line.minutes for line in lane.ledger if group_of(line) == group] for lane in lanes.values()]
        if any(sums):
            rows.append((group, *(signed(sum(found)) if found else "" for found in sums)))
    rows.append(("Together: end less briefed end", *(signed(lane.difference_min or 0.0) for lane in lanes.values())))
    return rows, [len(rows) - 1]


def _lines(ledger: Sequence[LedgerLine], titles: Mapping[str, str]) -> Iterator[Part]:
    shown = [line for line in ledger[:MOST_LINES] if abs(line.minutes) >= LEAST_LINE_MIN]
    rows = [(signed(line.minutes), about(line, titles)) for line in shown]
    if rest := ledger[len(shown):]:
        rows.append((signed(sum(line.minutes for line in rest)), f"and {len(rest)} more, together"))
    if not rows:
        yield Paragraph("No difference from the brief.")
        return
    yield _table((Column("Minutes", 1, True), Column("Cause", 9)), rows)


def _titles(facts: Debrief) -> dict[str, str]:
    return {row.task: row.title for lane in facts.lanes.values() for row in lane.tasks}


# Tasks ------------------------------------------------------------------------------------------


def _as_run(facts: Debrief) -> Iterator[Part]:
    yield Heading("Tasks as run against the brief", new_page=True)
    yield Paragraph("In order of start. Late and early are against the briefed start and finish.", "small")
    columns = (
        Column("Task", 4), Column("", 12), Column("State", 5), Column("Briefed, PET", 6, True),
        Column("As run, PET", 6, True), Column("Began", 5), Column("Done", 5), Column("Worked / briefed, min", 5, True),
    )  # fmt: skip
    for name, lane in facts.lanes.items():
        yield Heading(clean(name), 3)
        if not lane.tasks:
            yield Paragraph("No tasks.")
            continue
        yield _table(columns, [_task(name, row) for row in lane.tasks])


def _task(lane: str, row: TaskRow) -> tuple[str, ...]:
    others = [other for other in row.lanes if other != lane]
    notes = [row.title] + [f"with {', '.join(others)}" for _ in others[:1] if lane in row.lanes]
    notes += [f"handed to {', '.join(row.lanes)}"] if lane not in row.lanes else []
    notes += [row.origin] if row.origin != "briefed" else []
    notes += ["get-ahead"] if row.get_ahead else []
    notes += [row.why_out] if row.why_out and row.why_out != "deferred" else []
    notes += [f"trimmed to {words.duration(row.planned_min)}"] if row.planned_min < row.briefed_min else []
    notes += [f"extended to {words.duration(row.planned_min)}"] if row.planned_min > row.briefed_min else []
    notes += [f"{words.duration(row.held_min)} on hold"] if row.held_min >= 0.5 else []
    notes += [f'log: "{remark}"' for remark in row.remarks]
    worked = "not known" if row.worked_min is None else f"{words.whole(row.worked_min, 'nearest')}"
    begun = row.start_pet_min is not None or row.finish_pet_min is not None
    return (
        row.task,
        "; ".join(note for note in notes if note),
        row.state if row.in_plan or row.state == "deferred" else "not in the plan",
        _from_to(row.briefed_start_pet_min, row.briefed_finish_pet_min),
        _from_to(row.start_pet_min, row.finish_pet_min, "not entered") if begun else "",
        _late(row.start_late_min) if begun else "",
        _late(row.finish_late_min) if row.finish_pet_min is not None else "",
        f"{worked} / {words.whole(row.briefed_min, 'nearest')}" if begun else f"- / {words.whole(row.briefed_min, 'nearest')}",
    )


def _from_to(begin: float | None, end: float | None, unknown: str = "") -> str:
    if begin is None and end is None:
        return ""
    first = words.pet(begin) if begin is not None else unknown
    return f"{first} to {words.pet(end)}" if end is not None else f"{first}, open"


def _late(minutes: float | None) -> str:
    """A start or finish against the brief: ``5 min late``, ``2 min early``; empty when there is nothing to compare."""
    return "" if minutes is None else words.compared(minutes, "late", "early")


# What the room knew -----------------------------------------------------------------------------


def _calls(facts: Debrief) -> Iterator[Part]:
    """When the room was first told, when it was asked, what was proposed for now, and what was decided and when."""
    yield Heading("Calls to the room")
    if not facts.calls:
        yield Paragraph("Nobody was called: no cut was likely to be needed, as far as was known.")
        return
    for word, said in (("expect", "First told to expect a cut"), ("decide", "First asked to decide")):
        first = next((one for one in facts.calls if one.call == word), None)
        at = "never" if first is None else f"{words.pet_named(first.pet_min)}, {first.changed_by or 'when it was first judged'}"
        yield Paragraph(clean(f"{said}: {at}."))
    yield Paragraph(
        "Judged again every hour from what was known then; the board judged more often, so it may have told the room some "
        "minutes earlier.", "small",
    )
    columns = (
        Column("PET", 1, True), Column("Call", 2), Column("What went now, and by when", 5),
        Column("Why", 6), Column("Decided", 5),
    )
    yield _table(columns, [_call(facts, place) for place in range(len(facts.calls))])


def _call(facts: Debrief, place: int) -> tuple[str, ...]:
    """One change of the call, with what was decided until the next one."""
    one = facts.calls[place]
    until = facts.calls[place + 1].pet_min if place + 1 < len(facts.calls) else float("inf")
    decided = [d for d in facts.decisions if one.pet_min <= d.pet_min < until] if one.call != "none" else []
    goes = [*one.for_now] or (["nothing yet"] if one.call == "expect" else [])
    goes += [f"by {words.pet_named(one.by_pet_min)}"] if one.by_pet_min is not None and one.call != "none" else []
    took = [f"{words.pet_named(d.pet_min)}: {d.text}" for d in decided]
    why = f"{one.why} Changed by: {one.changed_by}." if one.changed_by else one.why
    return words.pet(one.pet_min), story.CALLS[one.call], "\n".join(goes), why, "\n".join(took)


def _decisions(facts: Debrief) -> Iterator[Part]:
    yield Heading("Decisions" if facts.typed_afterwards else "Decisions, and what was known when they were made")
    if not facts.decisions:
        yield Paragraph("No decision was logged.")
        return
    basis = "that had happened by then" if facts.typed_afterwards else "that the room had received by then"
    yield Paragraph(
        f"The figures are those at the instant of the decision, from the events {basis}, without the decision itself. "
        "Plan pace uses the likely lengths only.", "small",
    )
    known = "By what had happened then" if facts.typed_afterwards else "Known then"
    columns = (Column("PET", 1, True), Column("Decision", 6), Column(known, 6), Column("Projected end", 3))
    yield _table(columns, [_decision(one) for one in facts.decisions])


def _decision(one: DecisionFact) -> tuple[str, ...]:
    known = [f"limit {words.pet_named(one.limit.pet_min)} ({one.limit.set_by}), {words.margin(one.margin_min)}"]
    if one.p10_pet_min is not None:
        spread = words.between(one.p10_pet_min, one.p90_pet_min)
        known.append(f"expected end P50 {words.pet_named(one.p50_pet_min, 'up')}, {spread}")
        known.append(story.chance_in_time(one.in_by_limit))
    known += [f"{name} {words.ahead(minutes)}" for name, minutes in one.ahead_min.items()]
    if one.least_suit is not None:
        against = "plan pace" if one.p50_pet_min is None else "the expected end"
        known.append(f"{one.least_suit}: {words.suit_margin(one.least_suit_margin_min)} at {against}")
    known += recorded(one.chosen)
    if one.shown_then is not None:
        known += [f"entered late, on {one.entered_on}", f"recorded with it, of its own time: {one.shown_then}"]
    by = f"\nby {one.by}" if one.by else ""
    end = f"before {words.pet_named(one.end_pet_min, 'up')}\nwith it {words.pet_named(one.end_after_pet_min, 'up')}"
    return words.pet(one.pet_min), f"{one.text}{by}", "\n".join(known), end


_RECORDED: Mapping[str, Callable[[float], str]] = {
    "end_pet_min": lambda value: f"end {words.pet_named(value, 'up')}",
    "p90_pet_min": lambda value: f"P90 {words.pet_named(value, 'up')}",
    "in_by_limit": lambda value: story.chance_in_time(value),
}


def recorded(chosen: object) -> list[str]:
    """The figures that were recorded with a decision, in words.

    Parameters
    ----------
    chosen : object
        The recorded figures: a mapping, any other value, or None.

    Returns
    -------
    list of str
        Empty when nothing was recorded.
    """
    if chosen is None:
        return []
    if not isinstance(chosen, Mapping):
        return [f"recorded with it: {chosen}"]
    said = [say(value) for key, say in _RECORDED.items() if isinstance(value := chosen.get(key), int | float)]
    return [f"recorded with it: {', '.join(said)}"] if said else [f"recorded with it: {chosen}"]


def _foreseen(facts: Debrief) -> Iterator[Part]:
    yield Heading("Projected ends against the actual end")
    drawn = foreseen.foreseen(facts, PICTURE_WIDTH)
    if drawn is None:
        yield Paragraph("Nothing was projected: PET zero is still to come.")
        return
    yield Picture((drawn,), foreseen.CAPTION)
    end = facts.end.pet_min
    if facts.so_far or end is None:
        return
    spreads = [
        (p, p.p10_pet_min, p.p90_pet_min) for p in facts.projections if p.p10_pet_min is not None and p.p90_pet_min is not None
    ]
    if spreads:
        inside = sum(low <= end <= high for _, low, high in spreads)
        yield Paragraph(
            f"The actual end lay between P10 and P90 at {inside} of {words.how_many(len(spreads), 'instant')}. "
            "The instants are not independent of each other: one sortie says little about how good the projections are, "
            "and tasks that were given up during the sortie moved the end."
        )


# Suits ------------------------------------------------------------------------------------------


def _suits(facts: Debrief) -> Iterator[Part]:
    yield Heading("Suit use")
    if not facts.suits:
        yield Paragraph("The plan names no suit.")
        return
    yield Paragraph(
        "Planned use: modelled for the brief, up to its end. Used: loaded less the amount left at the end, which is the last "
        "reading less the modelled use since.", "small",
    )
    columns = (
        Column("Suit", 3), Column("Consumable", 5), Column("Loaded", 4, True), Column("Planned use", 4, True),
        Column("Used", 4, True), Column("Against plan", 4, True), Column("Left", 4, True), Column("Reserve", 4, True),
        Column("Last reading", 6), Column("Findings", 6),
    )  # fmt: skip
    yield _table(columns, [_suit(one) for one in facts.suits])


def _suit(one: SuitUse) -> tuple[str, ...]:
    name = one.consumable
    against = one.used / one.planned_use if one.used is not None and one.planned_use else None
    read = f"{words.amount(one.last_reading, name)} at {words.pet_named(one.last_reading_pet_min)}"
    return (
        one.suit, words.NAMES.get(name, name), words.amount(one.loaded, name),
        words.amount(one.planned_use, name, "up") if one.planned_use is not None else "nothing briefed",
        words.amount(one.used, name, "up"), words.against(against), words.amount(one.left, name),
        words.amount(one.reserve, name, "up"), read if one.last_reading is not None else "none", "; ".join(one.flags),
    )  # fmt: skip


# Left, and open questions -----------------------------------------------------------------------


def _carry_over(facts: Debrief) -> Iterator[Part]:
    yield Heading("Carry-over" + (" so far" if facts.so_far else ""))
    if not facts.carry_over:
        yield Paragraph("Nothing that was briefed is left." if not facts.so_far else "Nothing was given up so far.")
        return
    yield Paragraph(
        "The tasks that this sortie leaves, from plan and log. Work that is no task of the plan, such as tools left outside, is "
        "not known here. Options not taken are no carry-over.", "small",
    )
    columns = (Column("Task", 2), Column("", 6), Column("Left because", 3), Column("Remains", 4), Column("Needs", 7))
    yield _table(columns, [_left(one) for one in facts.carry_over])
    still = facts.left_open
    prepared = [f"contingency {name}" for name in still.contingencies]
    prepared += [f"alternative {name} (in force: {option})" for name, option in still.alternatives.items()]
    if prepared:
        yield Paragraph(f"Still open, and included in the carry-over: {'; '.join(prepared)}.")


def _left(one: LeftTask) -> tuple[str, ...]:
    needs = [f"lanes {', '.join(one.lanes)}"]
    needs += [f"worksite {one.worksite}"] if one.worksite else []
    needs += [f"windows of {', '.join(one.needs)}"] if one.needs else []
    needs += [f"comes after {', '.join(one.after_left)} (left too)"] if one.after_left else []
    needs += [f"came after {', '.join(one.after_done)} (done)"] if one.after_done else []
    needs += [f"activity {one.activity}"] if one.activity else []
    because = one.because if one.why in (one.because, "") else f"{one.because}: {one.why}"
    return one.task, one.title, because, f"{words.duration(one.remaining_min, 'up')}\n({one.remaining_from})", "\n".join(needs)


def _questions(facts: Debrief) -> Iterator[Part]:
    yield Heading("Entries that do not fit, and lines that could not be read")
    if not facts.discrepancies and not facts.unread:
        yield Paragraph("None.")
    if facts.discrepancies:
        columns = (
            Column("PET", 1, True), Column("Event", 2), Column("Expected", 6),
            Column("Found, and how it was applied", 6),
        )  # fmt: skip
        yield _table(columns, [
            (words.pet(d.pet_min) if d.pet_min is not None else "", d.event, d.expected, d.found)
            for d in facts.discrepancies
        ])
    if facts.unread:
        lines = [(one.where or "", one.why, shortened(one.line, MOST_SHOWN)) for one in facts.unread]
        yield _table((Column("Where", 2), Column("Why it could not be read", 5), Column("Line as received", 7)), lines)


def _table(columns: tuple[Column, ...], rows: Sequence[tuple[str, ...]]) -> Table:
    return Table(columns, tuple(tuple(clean(cell) for cell in row) for row in rows))
