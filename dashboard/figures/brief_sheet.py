"""Draws the lane sheet as briefed: time runs downwards, one column per lane, a joint task is one block across its columns.

Each block has a box to tick. Blocks of an option that is not the default have a broken edge and stand beside those of the default
option. A thick bar left of a block marks a change since the last issue. Outside daylight the ground is grey; where other windows
open and close stands in words on the right, as do the limit and what the lanes wait for.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from dashboard import words
from dashboard.core.brief.facts import Brief, BriefStep
from dashboard.figures.columns import in_best_order, runs
from dashboard.figures.drawing import LINE_HEIGHT, Drawing, Line, Mark, Rect, Words, fitting, wrapped

PT_A_MIN = 2.85
MOST_MIN = 220.0  # minutes in one drawing, so that it fits a page
GRID_MIN = 30
HEAD = 26.0
FOOT = 10.0
AXIS = 32.0
SIDE = 76.0
TICK = 7.0
TEXT = 6.8
SMALL = 5.8
LEAST_WAIT_MIN = 6.0  # a shorter wait has no room for its words
LEAST_GAP = 1.6  # between two texts beside the sheet

CAPTION = (
    "Time runs downwards, with the briefed starts and likely lengths. A block across several columns is a joint task. Tick a box "
    "when its step is done. Grey ground: outside daylight. Broken edge: only if that ending is taken. \"If\" names a contingency "
    "that could come in there. The task sheet has the titles that do not fit."
)
BARS = " A thick bar left of a block: new or changed since the last issue."


@dataclass(frozen=True)
class LaneSheet:
    """A drawing of some time of the sortie, and where its blocks are.

    Parameters
    ----------
    drawing : Drawing
    blocks : mapping of str to tuple
        Task -> left, top, width and height of each of its blocks, points. Tasks outside its time have none.
    from_min, to_min : float
        The time that it shows, PET minutes.
    columns : mapping of str to float
        Lane -> left edge of its column, points.
    """

    drawing: Drawing
    blocks: Mapping[str, tuple[tuple[float, float, float, float], ...]]
    from_min: float
    to_min: float
    columns: Mapping[str, float]


def lane_sheets(facts: Brief, width: float, *, most_min: float = MOST_MIN, pt_a_min: float = PT_A_MIN) -> list[LaneSheet]:
    """Draw the lanes as briefed.

    Parameters
    ----------
    facts
        The brief.
    width
        Width of a drawing, points.
    most_min
        Minutes in one drawing.
    pt_a_min
        Height of a minute, points.

    Returns
    -------
    list of LaneSheet
        One for each part of the sortie; empty when nothing is briefed.
    """
    if not facts.steps:
        return []
    last = max([facts.limit.pet_min, *(step.to_pet_min for step in facts.steps)])
    end = 10.0 * math.ceil((last + 1) / 10)
    count = max(1, math.ceil(end / most_min))
    length = 10.0 * math.ceil(end / count / 10)
    starts = [length * part for part in range(count)]
    return [_Sheet(facts, width, start, min(start + length, end), pt_a_min).drawn() for start in starts if start < end]


@dataclass
class _Sheet:
    """One drawing while it is made."""

    facts: Brief
    width: float
    from_min: float
    to_min: float
    pt_a_min: float
    place: dict[str, int] = field(init=False)
    column: float = field(init=False)

    def __post_init__(self) -> None:
        joint = [(frozenset(step.lanes), step.likely_min) for step in self.facts.steps]
        order = in_best_order(list(self.facts.lanes), joint)
        self.place = {lane: at for at, lane in enumerate(order)}
        self.column = (self.width - AXIS - SIDE) / len(order)

    def y(self, pet_min: float) -> float:
        return HEAD + (min(max(pet_min, self.from_min), self.to_min) - self.from_min) * self.pt_a_min

    def shows(self, begin: float, end: float) -> bool:
        return begin < self.to_min and end > self.from_min

    def drawn(self) -> LaneSheet:
        height = HEAD + (self.to_min - self.from_min) * self.pt_a_min + FOOT
        shown = [step for step in self.facts.steps if self.shows(step.from_pet_min, step.to_pet_min)]
        blocks = {step.task: tuple(self.boxes(step)) for step in shown}
        marks: list[Mark] = [*self.night(), *self.grid(), *self.waits()]
        for step in shown:
            for box in blocks[step.task]:
                marks += self.block(step, box)
        marks += self.side()
        label = f"Lanes as briefed, {words.pet_named(self.from_min)} to {words.pet_named(self.to_min)}"
        columns = {lane: AXIS + at * self.column for lane, at in self.place.items()}
        return LaneSheet(Drawing(self.width, height, tuple(marks), label), blocks, self.from_min, self.to_min, columns)

    # ground -------------------------------------------------------------------------------------

    def night(self) -> Iterator[Mark]:
        light = [one for one in self.facts.windows if one.kind == "daylight"]
        if not light:
            return
        edges = [self.from_min, *(edge for one in light for edge in (one.from_pet_min, one.to_pet_min)), self.to_min]
        for begin, end in zip(edges[::2], edges[1::2], strict=True):
            if end > begin and self.shows(begin, end):
                yield Rect(AXIS, self.y(begin), self.width - AXIS - SIDE, self.y(end) - self.y(begin), "night")

    def grid(self) -> Iterator[Mark]:
        right, bottom = self.width - SIDE, self.y(self.to_min)
        yield Words(0, HEAD - 4, "PET", SMALL, "secondary")
        for minute in range(int(self.from_min), int(self.to_min) + 1, 10):
            y = self.y(minute)
            if minute % GRID_MIN:
                yield Line(((AXIS - 5, y), (AXIS - 1, y)), "soft", 0.5)
                continue
            yield Line(((AXIS - 5, y), (right, y)), "line", 0.6)
            yield Words(AXIS - 8, y + 2.4, words.pet(minute), TEXT, "secondary", "end")
        for lane, at in self.place.items():
            left = AXIS + at * self.column
            yield Line(((left, HEAD - 18), (left, bottom)), "line", 0.6)
            yield Words(left + 5, HEAD - 7, lane, 9, "text", bold=True)
        yield Line(((right, HEAD - 18), (right, bottom)), "line", 0.6)
        if self.shows(self.facts.limit.pet_min, self.facts.limit.pet_min + 1):
            y = self.y(self.facts.limit.pet_min)
            yield Line(((AXIS, y), (right, y)), "strong-edge", 1.2, (5, 2))

    def waits(self) -> Iterator[Mark]:
        for one in self.facts.waits:
            begin, end = max(one.from_pet_min, self.from_min), min(one.to_pet_min, self.to_min)
            if end - begin < LEAST_WAIT_MIN or one.wait.kind not in ("task", "lane", "window"):
                continue
            left = AXIS + self.place[one.lane] * self.column + 5
            said = f"waits for {one.wait.name}"
            fits = f"; fits: {', '.join(fill.task for fill in one.fills)}" if one.fills else ""
            lines = fitting([said + fits, said], self.column - 8, self.y(end) - self.y(begin), SMALL)
            top = (self.y(begin) + self.y(end)) / 2 - SMALL * LINE_HEIGHT * len(lines) / 2
            for number, line in enumerate(lines):
                yield Words(left, top + SMALL * (0.95 + LINE_HEIGHT * number), line, SMALL, "secondary")

    # blocks -------------------------------------------------------------------------------------

    def boxes(self, step: BriefStep) -> Iterator[tuple[float, float, float, float]]:
        top = self.y(step.from_pet_min)
        height = max(self.y(step.to_pet_min) - top - 0.8, 1.0)
        for first, last in runs(step.lanes, self.place):
            left, right = AXIS + first * self.column + 4, AXIS + (last + 1) * self.column - 3
            beside = self.beside(step, first, last)
            half = 0.45 * self.column
            if not step.is_default and beside is not None:
                left, right = (left, left + half) if beside == "left" else (right - half, right)
            elif beside is not None:
                left, right = (left + half + 3, right) if beside == "left" else (left, right - half - 3)
            yield left, top, right - left, height

    def beside(self, step: BriefStep, first: int, last: int) -> str | None:
        """At which edge of a block the other option of the same time stands; None: there is none."""
        for other in self.facts.steps:
            together = other.from_pet_min < step.to_pet_min and step.from_pet_min < other.to_pet_min
            alike = other.alternative is not None and other.alternative == step.alternative
            if not (alike and together) or other.is_default == step.is_default:
                continue
            default, optional = (other, step) if other.is_default else (step, other)
            shared = [self.place[lane] for lane in optional.lanes if lane in default.lanes]
            if shared and any(first <= at <= last for at in shared):
                start = min(self.place[lane] for lane in default.lanes)
                return "left" if min(shared) == start and len(default.lanes) > 1 else "right"
        return None

    def block(self, step: BriefStep, box: tuple[float, float, float, float]) -> Iterator[Mark]:
        left, top, width, height = box
        dash = () if step.is_default else (3.0, 2.0)
        yield Rect(left, top, width, height, "panel", "done-edge", 0.8, dash)
        if len(step.lanes) > 1:
            yield Rect(left, top, width, 1.8, "done-edge")
        if self.facts.against is not None and step.task in self.facts.against.changed("task"):
            yield Rect(left - 3.2, top, 2.4, height, "strong-edge")
        small = min(TICK, height - 2)
        if step.from_pet_min >= self.from_min:
            yield Rect(left + 2.5, top + min(3.0, (height - small) / 2), small, small, "panel", "text", 0.8)
        indent = TICK + 6
        size, lines = _fitted(_said(step), width - indent - 2, height - 0.5)
        for number, line in enumerate(lines):
            yield Words(left + indent, top + size * (1.1 + LINE_HEIGHT * number), line, size, "text")

    # beside the sheet ---------------------------------------------------------------------------

    def side(self) -> Iterator[Mark]:
        """Texts right of the columns. Each is moved down until it is clear of the one above it."""
        said = [(self.facts.limit.pet_min, f"limit {words.pet_named(self.facts.limit.pet_min)}: {self.facts.limit.set_by}")]
        for one in self.facts.windows:
            off = words.outside_window(one.kind)
            said += [(one.from_pet_min, f"{one.kind} {words.pet_named(one.from_pet_min, 'up')}")]
            said += [(one.to_pet_min, f"{off} {words.pet_named(one.to_pet_min)}")]
        for ending in self.facts.endings:
            if ending.decide_by_pet_min is not None:
                by = words.pet_named(ending.decide_by_pet_min)
                said.append((ending.decide_by_pet_min, f"decide {ending.alternative} by {by}"))
        free_from, left = HEAD - 20, self.width - SIDE + 4
        for at, text in sorted(said):
            if not self.from_min <= at <= self.to_min or (at == self.to_min and at < max(one for one, _ in said)):
                continue
            lines = wrapped(text, SIDE - 6, SMALL)
            top = max(self.y(at) - SMALL * 0.6, free_from)
            if top + len(lines) * SMALL * LINE_HEIGHT > self.y(self.to_min) + FOOT:
                continue
            yield Line(((left - 4, self.y(at)), (left - 1, self.y(at))), "secondary", 0.6)
            for number, line in enumerate(lines):
                yield Words(left, top + SMALL * (0.95 + LINE_HEIGHT * number), line, SMALL, "secondary")
            free_from = top + len(lines) * SMALL * LINE_HEIGHT + LEAST_GAP


def _fitted(choices: list[str], width: float, height: float) -> tuple[float, list[str]]:
    """The size and the lines of the first text that fits; a small size rather than a text without the title."""
    whole = fitting(choices[:-1], width, height, TEXT)
    if whole:
        return TEXT, whole
    small = fitting(choices, width, height, SMALL)
    return SMALL, small


def _said(step: BriefStep) -> list[str]:
    """The possible texts of a block, the longest first."""
    head = f"{step.task} {step.title}".strip()
    length = f"{head}, {words.duration(step.likely_min)}"
    goes_wrong = f"{length}. If: {', '.join(step.contingencies)}" if step.contingencies else length
    notes = f"{goes_wrong}. {step.notes}" if step.notes else goes_wrong
    return [notes, goes_wrong, length, head, step.task]
