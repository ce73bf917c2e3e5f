"""What may be given up, as steps: each task whole, shorter by whole minutes, or out. And one set of such steps as a change."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

from dashboard.core.deferral.change import Change
from dashboard.core.deferral.items import SECONDS, Deferral, Item

LOSS_SCALE = 1_000_000


class Step(NamedTuple):
    """How much of a task is given up. `length_min` is its new whole length; None: whole, or out."""

    loss: int
    length_min: float | None
    out: bool


@dataclass(frozen=True)
class Piece:
    """One task and its steps, from whole to as little as allowed; `loss` grows with each."""

    id: str
    priority: int
    steps: tuple[Step, ...]
    breaks_off: bool
    moves: tuple[str, ...]
    after: tuple[str, ...]

    @property
    def last(self) -> int:
        """The step that gives up most."""
        return len(self.steps) - 1


@dataclass(frozen=True)
class Pick:
    """A step for each task that is not whole, and the lane of each that is handed over."""

    steps: Mapping[str, int]
    lanes: Mapping[str, str]

    def step(self, task_id: str) -> int:
        """The step of a task; 0 is whole."""
        return self.steps.get(task_id, 0)


def pieces_of(problem: Deferral, most_trims: int | None = None) -> dict[str, Piece]:
    """The steps of every remaining task, by name; with `most_trims`, at most so many lengths of each, evenly spread."""
    return {
        item.id: Piece(
            item.id, item.priority, tuple(_steps(item, most_trims)), item.closeout_s is not None, item.moves, item.after
        )
        for item in problem.items
    }


def _steps(item: Item, most_trims: int | None) -> Iterable[Step]:
    yield Step(0, None, False)
    if item.least_s < item.length_s:
        for length in _spread(list(_whole_minutes(item)), most_trims):
            cut_s = item.worked_s + item.length_s - length * SECONDS
            yield Step(round(item.loss_per_s * cut_s * LOSS_SCALE), length, False)
    if item.may_defer:
        yield Step(round(item.value * LOSS_SCALE), None, True)
    elif item.closeout_s is not None:
        yield Step(round(item.loss_per_s * item.length_s * LOSS_SCALE), None, True)


def _spread(lengths: list[float], most: int | None) -> list[float]:
    """At most so many of the lengths, the shortest always among them."""
    if most is None or len(lengths) <= most:
        return lengths
    return [lengths[(i + 1) * len(lengths) // most - 1] for i in range(most)]


def _whole_minutes(item: Item) -> Iterable[float]:
    """New whole lengths: whole minutes below the present one, down to the shortest."""
    longest, shortest = (item.worked_s + item.length_s) / SECONDS, (item.worked_s + item.least_s) / SECONDS
    first, last = math.ceil(longest - 1e-6) - 1, math.ceil(shortest - 1e-6)
    yield from (float(minutes) for minutes in range(first, last - 1, -1))
    if last > shortest + 1e-6:
        yield shortest


def change_of(pieces: Mapping[str, Piece], pick: Pick, choose: Mapping[str, str]) -> Change:
    """The change that a pick stands for."""
    change = Change(move=dict(pick.lanes), choose=choose)
    trim: dict[str, float] = {}
    out: list[str] = []
    for task_id, piece in pieces.items():
        step = piece.steps[pick.step(task_id)]
        if step.out:
            out.append(task_id)
        elif step.length_min is not None:
            trim[task_id] = step.length_min
    return replace(
        change, trim=trim, defer=tuple(t for t in out if not pieces[t].breaks_off),
        break_off=tuple(t for t in out if pieces[t].breaks_off),
    )


def followers(pieces: Mapping[str, Piece]) -> dict[str, frozenset[str]]:
    """For each task, those that go with it when it goes: what comes after it, and after that."""
    direct: dict[str, set[str]] = {task_id: set() for task_id in pieces}
    for piece in pieces.values():
        for needed in piece.after:
            direct[needed].add(piece.id)
    found: dict[str, frozenset[str]] = {}
    for task_id in pieces:
        seen: set[str] = set()
        queue = [task_id]
        while queue:
            for other in direct[queue.pop()] - seen:
                seen.add(other)
                queue.append(other)
        found[task_id] = frozenset(seen)
    return found
