"""The brief as documents: the whole brief on large paper, and the cuff pages of the crew. All content comes from the facts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import groupby
from typing import NamedTuple

from dashboard import words
from dashboard.core.brief.facts import Brief, BriefContingency, BriefStep
from dashboard.core.state.model import ConsumableState
from dashboard.figures.brief_sheet import BARS, CAPTION, lane_sheets
from dashboard.reports import brief_words as said
from dashboard.reports.document import CUFF, Column, Document, Heading, Paragraph, Part, Picture, Table, clean

PICTURE_WIDTH = 520.0
TICK = Column("", 1, ticks=True)
MOST_STEPS_ON_CUFF = 5


def brief_document(facts: Brief, made_at: datetime, version: str) -> Document:
    """Make the document of a brief.

    Parameters
    ----------
    facts
        The brief.
    made_at
        Aware; when the document is made.
    version
        Of the program.

    Returns
    -------
    Document
        With change bars where the facts were compared with the last issue.
    """
    parts = (
        *_changes(facts), *_in_short(facts), *_lane_sheet(facts), *_walk_through(facts), *_task_sheet(facts), *_waits(facts),
        *_endings(facts), *_decisions(facts), *_suits(facts), *_ways(facts), *_contingencies(facts), *_checks(facts),
    )  # fmt: skip
    return _document(facts, "Brief", made_at, version, parts)


def cuff_document(facts: Brief, made_at: datetime, version: str) -> Document:
    """Make the cuff pages: for each crew lane one page per stretch of steps at one worksite, then its contingencies.

    Parameters
    ----------
    facts
        The brief.
    made_at
        Aware; when the document is made.
    version
        Of the program.

    Returns
    -------
    Document
        On small paper.
    """
    crew = [lane for lane, kind in facts.lanes.items() if kind == "crew"]
    parts = [part for lane in crew for part in (*_stretches(facts, lane), *_contingencies_on_cuff(facts, lane))]
    return _document(facts, "Cuff pages", made_at, version, parts)


def _document(facts: Brief, what: str, made_at: datetime, version: str, parts: Sequence[Part]) -> Document:
    against = f" Compared with revision {facts.against.revision}." if facts.against is not None else ""
    return Document(
        title=clean(f"{what}: {facts.title or facts.sortie}"),
        subtitle=clean(
            f"Sortie {facts.sortie}, revision {facts.revision}. Planned PET zero {words.date(facts.start)} "
            f"{words.utc_named(facts.start)}.{against}"
        ),
        made=f"Made at {words.date(made_at)} {words.utc_named(made_at)} by tetherline {version}",
        caution=clean(facts.caution),
        running=clean(f"Sortie {facts.sortie}, {what.lower()}, revision {facts.revision}"),
        parts=tuple(parts),
        **({} if what == "Brief" else {"paper": CUFF}),
    )  # fmt: skip


def _changed(facts: Brief, part: str) -> set[str]:
    return facts.against.changed(part) if facts.against is not None else set()


# What changed -----------------------------------------------------------------------------------


def _changes(facts: Brief) -> Iterator[Part]:
    if facts.against is None:
        return
    yield Heading(f"What changed since revision {facts.against.revision}")
    if facts.against.sortie != facts.sortie:
        yield Paragraph(f"The last issue was of another sortie, {clean(facts.against.sortie)}.")
    if not facts.against.changes:
        yield Paragraph("Nothing.")
        return
    yield Paragraph("Bars in the margin of the sheets below mark what is new or changed.", "small")
    changes: dict[str, list[str]] = {}
    for about, what in map(said.change, facts.against.changes):
        changes.setdefault(about, []).append(what)
    yield _table((Column("Entry", 5), Column("Change", 7)), [(about, "\n".join(what)) for about, what in changes.items()])


def _in_short(facts: Brief) -> Iterator[Part]:
    yield Heading("In short")
    for sentence in said.promise(facts):
        yield Paragraph(clean(sentence))
    least = min(
        ((one.margin_min, name) for name, one in facts.suits.items() if one.margin_min is not None), default=None
    )
    if least is not None:
        suit = facts.suits[least[1]]
        consumable = words.NAMES.get(suit.limiting or "", suit.limiting or "")
        which = f"suit {least[1]}, {consumable}"
        yield Paragraph(clean(f"Least suit margin: {which}, {words.suit_margin(least[0])} at the {words.which_end(facts.end)}."))
    counts = [words.how_many(len(facts.steps), "step"), words.how_many(len(facts.contingencies), "contingency", "contingencies"),
              words.how_many(len(facts.endings), "open ending")]
    yield Paragraph(f"{words.listed(counts)}.".capitalize())


# Lane sheet -------------------------------------------------------------------------------------


def _lane_sheet(facts: Brief) -> Iterator[Part]:
    sheets = lane_sheets(facts, PICTURE_WIDTH)
    caption = CAPTION + (BARS if facts.against is not None else "")
    for number, sheet in enumerate(sheets, start=1):
        count = f" ({number} of {len(sheets)})" if len(sheets) > 1 else ""
        yield Heading(f"Lane sheet as briefed, PET {said.span(sheet.from_min, sheet.to_min)}{count}", new_page=True)
        yield Picture((sheet.drawing,), caption if number == len(sheets) else "The next drawing goes on from here.")
    if not sheets:
        yield Paragraph("No task has a briefed start, so there is no lane sheet.")


# Steps ------------------------------------------------------------------------------------------


def _walk_through(facts: Brief) -> Iterator[Part]:
    yield Heading("Step by step", new_page=True)
    yield Paragraph("Each step with what every lane does when it begins.", "small")
    columns = (
        Column("", 3, True), Column("PET", 4, True), Column("Step", 18), Column("Who is where", 20), Column("What to say", 22),
    )  # fmt: skip
    rows = [_walked(facts, step) for step in facts.steps]
    changed = _changed(facts, "task")
    yield _table(columns, rows, {n for n, step in enumerate(facts.steps) if step.task in changed})


def _walked(facts: Brief, step: BriefStep) -> tuple[str, ...]:
    head = [f"{step.task} {step.title}", f"{' '.join(step.lanes)}, {said.lengths(step.low_min, step.likely_min, step.high_min)}"]
    where = facts.place(step.worksite)
    head += [f"{'to' if step.is_leg else 'at'} {where}"] if where else []
    then = [f"{words.listed(lanes)}: {what}" for lanes, what in said.who_is_where(facts, step)]
    return (
        str(step.number), words.pet(step.from_pet_min, "nearest"), "\n".join(head), "\n".join(then),
        "\n".join(f"If: {say}" if word == "If" else say for word, say in said.spoken(facts, step)),
    )  # fmt: skip


def _task_sheet(facts: Brief) -> Iterator[Part]:
    yield Heading("Task sheet", new_page=True)
    yield Paragraph(
        "Latest start: with everything after it at its likely length, the crew is still in by the limit. Without one, the end of "
        "the crew does not depend on it.", "small",
    )  # fmt: skip
    columns = (
        TICK, Column("PET", 3, True), Column("Task", 10), Column("Lanes", 3), Column("Min (range)", 5), Column("Where", 5),
        Column("Latest start, PET", 3, True), Column("Before it, and windows", 9),
    )  # fmt: skip
    rows, changed = [], _changed(facts, "task")
    for step in facts.steps:
        needs = [said.before(facts, step.comes_after), said.windows(step)]
        needs += [f"not before {words.pet_named(step.not_before_pet_min, 'up')}"] if step.not_before_pet_min is not None else []
        option = "" if step.is_default else f" (only if {step.alternative} is {step.option})"
        latest = words.pet(step.latest_start_pet_min) if step.latest_start_pet_min is not None else ""
        rows.append((
            "", said.span(step.from_pet_min, step.to_pet_min).replace(" to ", " to\n"), f"{step.task} {step.title}{option}",
            " ".join(step.lanes), said.minutes(step.low_min, step.likely_min, step.high_min), facts.place(step.worksite), latest,
            "\n".join(one for one in needs if one),
        ))  # fmt: skip
    yield _table(columns, rows, {n for n, step in enumerate(facts.steps) if step.task in changed})
    if facts.get_aheads:
        yield Heading("Get-aheads: only with time in hand", 3)
        ahead = [
            ("", f"{one.task} {one.title}", " ".join(one.lanes), words.duration(one.likely_min), facts.place(one.worksite),
             one.notes)
            for one in facts.get_aheads
        ]  # fmt: skip
        yield _table(_AHEAD, ahead, {n for n, one in enumerate(facts.get_aheads) if one.task in changed})


_AHEAD = (TICK, Column("Task", 10), Column("Lanes", 3), Column("Length", 3), Column("Where", 5), Column("", 9))


def _waits(facts: Brief) -> Iterator[Part]:
    yield Heading("Waits, and what fits into them")
    rows = [
        (said.span(one.from_pet_min, one.to_pet_min), one.lane, words.duration(one.to_pet_min - one.from_pet_min),
         said.waited_for(facts, one.wait), f"{named}" if (named := said.named(facts, one.before)) else "",
         said.fills(facts, one) or "nothing of the plan")
        for one in said.shown_waits(facts)
    ]  # fmt: skip
    if not rows:
        yield Paragraph("No lane waits.")
        return
    columns = (
        Column("PET", 4, True), Column("Lane", 2), Column("Length", 3), Column("Why", 8), Column("Before", 7), Column("Fits", 7),
    )  # fmt: skip
    yield _table(columns, rows)


# Decisions --------------------------------------------------------------------------------------


def _endings(facts: Brief) -> Iterator[Part]:
    yield Heading("Open endings")
    if not facts.endings:
        yield Paragraph("No ending is open.")
    for one in facts.endings:
        yield Paragraph(clean(said.ending(one)))


def _decisions(facts: Brief) -> Iterator[Part]:
    yield Heading("Decision points")
    yield Paragraph(
        "By when each decision falls, as expected at PET zero. Tasks of the first priority class are not listed; what else may "
        "be given up is. During the sortie the times move with the work: follow the board.", "small",
    )  # fmt: skip
    if not facts.decisions:
        yield Paragraph("None.")
        return
    rows = [("", words.pet(one.by_pet_min), *said.decision(facts, one)) for one in facts.decisions]
    yield _table((TICK, Column("By PET", 2, True), Column("Decision", 10), Column("", 10)), rows)


# Suits and ways ---------------------------------------------------------------------------------


def _suits(facts: Brief) -> Iterator[Part]:
    yield Heading("Suit budget at the briefed workload")
    rows = [
        (suit, words.NAMES.get(name, name), *_consumable(name, one))
        for suit, state in facts.suits.items() for name, one in state.consumables.items()
    ]
    if not rows:
        yield Paragraph("The plan names no suit.")
        return
    yield Paragraph(f"Need and margin are against the {words.which_end(facts.end)}.", "small")
    columns = (
        Column("Suit", 2), Column("Consumable", 4), Column("Loaded", 3, True), Column("Reserve", 3, True),
        Column("Need", 3, True), Column("Reserve reached, PET", 4, True), Column("Margin", 5), Column("", 5),
    )  # fmt: skip
    names = [suit for suit, state in facts.suits.items() for _ in state.consumables]
    changed = _changed(facts, "suit")
    yield _table(columns, rows, {n for n, suit in enumerate(names) if suit in changed})


def _consumable(name: str, one: ConsumableState) -> tuple[str, ...]:
    reached = words.pet(one.reserve_reached_pet_min) if one.reserve_reached_pet_min is not None else "not reached"
    margin = str(words.suit_margin(one.margin_min)) if one.margin_min is not None else ""
    return (
        words.amount(one.loaded, name), words.amount(one.reserve, name, "up"), words.amount(one.need, name, "up"), reached,
        margin, "; ".join(one.flags),
    )  # fmt: skip


def _ways(facts: Brief) -> Iterator[Part]:
    if not facts.ways:
        return
    yield Heading("Way back and leave-by times")
    rows = [
        (facts.place(name), words.duration(way.return_min, "up"),
         words.pet(way.leave_by_pet_min) if way.leave_by_pet_min is not None else "none", way.leave_by_set_by or "",
         words.pet(way.leaves_pet_min, "up") if way.leaves_pet_min is not None else "")
        for name, way in facts.ways.items()
    ]  # fmt: skip
    columns = (
        Column("Worksite", 5), Column("Way back", 3, True), Column("Leave by, PET", 3, True), Column("Set by", 8),
        Column("Work there ends, PET", 4, True),
    )  # fmt: skip
    changed = _changed(facts, "worksite")
    yield _table(columns, rows, {n for n, name in enumerate(facts.ways) if name in changed})


# Contingencies and checks -----------------------------------------------------------------------


def _contingencies(facts: Brief) -> Iterator[Part]:
    yield Heading("Contingencies")
    if not facts.contingencies:
        yield Paragraph("The plan prepares none.")
    for one in facts.contingencies:
        yield Heading(clean(f"{one.contingency}: {one.title}" if one.title else one.contingency), 3)
        yield Paragraph(clean(f"If: {one.trigger or one.title or one.contingency}."))
        yield Paragraph(clean(_held(facts, one)))
        yield _table(_STEPS, _contingency_rows(facts, one), _changed_steps(facts, one))


_STEPS = (TICK, Column("Step", 10), Column("Lanes", 3), Column("Min (range)", 4), Column("Where", 4), Column("Before it", 6))


def _changed_steps(facts: Brief, one: BriefContingency) -> set[int]:
    """Numbers of the steps of a contingency that are new or changed; all of them when the contingency itself is."""
    changed = _changed(facts, "contingency")
    return {n for n, step in enumerate(one.steps) if {one.contingency, f"{one.contingency} {step.task}"} & changed}


def _contingency_rows(facts: Brief, one: BriefContingency) -> list[tuple[str, ...]]:
    return [
        ("", "\n".join([f"{step.task} {step.title}", *([step.notes] if step.notes else [])]), " ".join(step.lanes),
         said.minutes(step.low_min, step.likely_min, step.high_min), facts.place(step.worksite),
         said.before(facts, step.comes_after))
        for step in one.steps
    ]  # fmt: skip


def _held(facts: Brief, one: BriefContingency) -> str:
    if one.hold:
        return f"Holds {words.listed([said.named(facts, task) for task in one.hold])}; resumed afterwards."
    if one.comes_in_at:
        return f"Holds nothing. Could come in at {words.listed(one.comes_in_at)}."
    return "Holds nothing. May come in at any time."


def _checks(facts: Brief) -> Iterator[Part]:
    if not facts.checks:
        return
    yield Heading("Recurring checks")
    rows = [
        ("", words.pet(due, "nearest"), one.title or one.check, " ".join(one.lanes))
        for due, one in sorted(((due, one) for one in facts.checks for due in one.due_pet_min), key=lambda found: found[0])
    ]
    yield _table((TICK, Column("Due, PET", 2, True), Column("Check", 6), Column("Lanes", 12)), rows)


# Cuff pages -------------------------------------------------------------------------------------


class _Stretch(NamedTuple):
    """Steps of one lane at one worksite, few enough for one small page."""

    worksite: str | None
    steps: list[BriefStep]


def _stretches_of(facts: Brief, lane: str) -> list[_Stretch]:
    own = [step for step in facts.steps if lane in step.lanes]
    found = []
    for worksite, group in groupby(own, key=lambda step: step.worksite):
        steps = list(group)
        pages = -(-len(steps) // MOST_STEPS_ON_CUFF)
        each = -(-len(steps) // pages)
        found += [_Stretch(worksite, steps[at : at + each]) for at in range(0, len(steps), each)]
    return found


def _stretches(facts: Brief, lane: str) -> Iterator[Part]:
    stretches, changed = _stretches_of(facts, lane), _changed(facts, "task")
    for number, (worksite, steps) in enumerate(stretches, start=1):
        place = f" {facts.place(worksite)}" if worksite else ""
        yield Heading(clean(f"{lane} {number} of {len(stretches)}:{place}"), new_page=True)
        leave = min((one.leave_by_pet_min for one in steps if one.leave_by_pet_min is not None), default=None)
        if leave is not None:
            yield Paragraph(clean(f"Leave by {words.pet_named(leave)}; {words.duration(steps[0].back_min, 'up')} back."), "small")
        columns = (TICK, Column("PET", 3, True), Column("Step", 14))
        rows = [("", words.pet(step.from_pet_min, "nearest"), _on_cuff(facts, step, lane)) for step in steps]
        yield _table(columns, rows, {n for n, step in enumerate(steps) if step.task in changed})


def _on_cuff(facts: Brief, step: BriefStep, lane: str) -> str:
    together = said.joint(facts, step.lanes, lane)
    lines = [", ".join(one for one in (f"{step.task} {step.title}", words.duration(step.likely_min), together) if one)]
    lines += [step.notes] if step.notes else []
    timed = [(one.kind, one.start_by_pet_min) for one in step.windows if one.start_by_pet_min is not None]
    lines += [f"begin by {words.pet_named(by)} ({kind})" for kind, by in timed]
    lines += [f"only if {step.alternative} is {step.option}"] if not step.is_default else []
    lines += [f"if: {_trigger(facts, name)} ({name})" for name in step.contingencies]
    return "\n".join(lines)


def _trigger(facts: Brief, name: str) -> str:
    one = next(found for found in facts.contingencies if found.contingency == name)
    return one.trigger or one.title or name


def _contingencies_on_cuff(facts: Brief, lane: str) -> Iterator[Part]:
    for one in facts.contingencies:
        if not any(lane in step.lanes for step in one.steps):
            continue
        yield Heading(clean(f"{lane}, if: {_trigger(facts, one.contingency)}"), new_page=True)
        yield Paragraph(clean(f"Contingency {one.contingency}. {_held_short(one)}"), "small")
        rows = [
            ("", " ".join(step.lanes), f"{step.task} {step.title}, {words.duration(step.likely_min)}\n{step.notes}".strip())
            for step in one.steps
        ]
        bold = {n for n, step in enumerate(one.steps) if lane in step.lanes}
        yield _table((TICK, Column("Lanes", 4), Column("Step", 13)), rows, _changed_steps(facts, one), bold)


def _held_short(one: BriefContingency) -> str:
    return f"Holds {words.listed(one.hold)}." if one.hold else "Holds nothing."


def _table(
    columns: tuple[Column, ...], rows: Sequence[tuple[str, ...]], changed: set[int] | None = None, strong: set[int] | None = None
) -> Table:
    cells = tuple(tuple(clean(cell) for cell in row) for row in rows)
    return Table(columns, cells, frozenset(strong or ()), frozenset(changed or ()))
