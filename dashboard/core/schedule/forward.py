"""The forward pass: starts and finishes from order, links, lanes, windows and lengths.

Every schedule is made here: plan pace and the turn-back time with single numbers, the expected projection and what-if with
arrays that hold one number for each draw. The rules:

1. Work in hand has its start already.
2. Other work starts as soon as nothing holds it back: now; its lanes, which are free once the work placed in them before
   is over; what it comes after, plus lag; its own `not_before`; a hold.
3. Work that needs windows starts in the first ones that hold it wholly. If none does, it starts as if it needed none.
4. It ends its length later.
5. Work whose own leg was given up starts once its lanes have come to it by the route.

Which legs there are is said by the plan of record (`record/legs.py`), and how long work takes by `lengths.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Literal, NamedTuple

from dashboard.core.schedule.float_or_array import BoolOrArray, FloatOrArray, latest
from dashboard.core.schedule.windows import Windows, earliest_in_windows

LaneFree = dict[str, FloatOrArray]


class Work(NamedTuple):
    """One piece of work to be placed. Times are PET minutes.

    Parameters
    ----------
    task : str
    lanes : tuple of str
        It occupies all of them for its whole length.
    predecessors : sequence of (str, float)
        What it comes after, with lags in minutes. One that is neither placed before it nor finished does not hold it back.
    begins_pet_min : float, optional
        Start of work in hand; nothing holds it back.
    not_before_pet_min : float, optional
    held_until_pet_min : float or array of shape (draws,), optional
        End of a hold.
    needs : sequence of str
        Kinds of windows that it must lie in.
    way_min : float or array of shape (draws,), optional
        Minutes that its lanes are on the way to it, once they are free.
    """

    task: str
    lanes: tuple[str, ...]
    predecessors: Sequence[tuple[str, float]] = ()
    begins_pet_min: float | None = None
    not_before_pet_min: float | None = None
    held_until_pet_min: FloatOrArray | None = None
    needs: Sequence[str] = ()
    way_min: FloatOrArray | None = None


class Bound(NamedTuple):
    """A time before which work cannot start, and what makes it so. `name` is the task or lane waited for."""

    kind: Literal["begun", "now", "lane", "task", "not before", "hold"]
    name: str | None
    pet_min: FloatOrArray


class Placed(NamedTuple):
    """Where the pass has put a piece of work. PET minutes, floats or arrays of shape (draws,).

    Parameters
    ----------
    work : Work
    bounds : sequence of Bound
        What it waited for, windows left out. Of several that hold it to the same time the first is the one to name.
    ready_pet_min : float or array of shape (draws,)
        When it could start if it needed no window: the latest of its bounds.
    start_pet_min, finish_pet_min : float or array of shape (draws,)
        A start that is the same in all draws may be a float although the finish is an array.
    window_missed : bool or array of shape (draws,)
        Whether no window holds it.
    """

    work: Work
    bounds: Sequence[Bound]
    ready_pet_min: FloatOrArray
    start_pet_min: FloatOrArray
    finish_pet_min: FloatOrArray
    window_missed: BoolOrArray


def forward(
    order: Iterable[Work],
    length_min: Callable[[str], FloatOrArray],
    *,
    now_pet_min: float,
    lane_free_pet_min: LaneFree,
    finished_pet_min: Mapping[str, float],
    windows: Windows,
) -> Iterator[Placed]:
    """Place work, one piece after the other.

    Parameters
    ----------
    order : iterable of Work
        In the order of placing: each lane takes its work in this order.
    length_min : callable
        Task -> minutes of work left; a float, or an array of shape (draws,). Asked once for each piece of work. A negative
        length returns to its lanes the time that was counted twice.
    now_pet_min : float
    lane_free_pet_min : dict of str to float or array of shape (draws,)
        When each lane is free; a lane not named is free now. **Changed by the pass**: after it, when each lane is free again.
    finished_pet_min : mapping of str to float
        Finishes of tasks that are over.
    windows : mapping of str to sequence of Window
        As `windows.windows_by_kind` makes it.

    Yields
    ------
    Placed
        For each piece of work, in order.
    """
    finish_of: dict[str, FloatOrArray] = {}
    start: FloatOrArray
    missed: BoolOrArray
    for work in order:
        length = length_min(work.task)
        bounds = _bounds(work, now_pet_min, lane_free_pet_min, finish_of, finished_pet_min)
        ready = latest([bound.pet_min for bound in bounds])
        start, missed = ready, False
        if work.needs and work.begins_pet_min is None:
            start, missed = earliest_in_windows(windows, work.needs, ready, length)
        finish = finish_of[work.task] = start + length
        for lane in work.lanes:
            in_hand = work.begins_pet_min is not None and lane in lane_free_pet_min
            lane_free_pet_min[lane] = latest((lane_free_pet_min[lane], finish)) if in_hand else finish
        yield Placed(work, bounds, ready, start, finish, missed)


def _bounds(
    work: Work, now: float, lane_free: LaneFree, placed: Mapping[str, FloatOrArray], finished: Mapping[str, float]
) -> list[Bound]:
    """Everything that a piece of work waits for, in the order in which it is named."""
    if work.begins_pet_min is not None:
        return [Bound("begun", None, work.begins_pet_min)]
    bounds = [Bound("now", None, now)]
    for other, lag in work.predecessors:
        over = placed[other] if other in placed else finished.get(other)
        if over is not None:
            bounds.append(Bound("task", other, over + lag if lag else over))
    for lane in work.lanes:
        free = lane_free.get(lane)
        if work.way_min is not None:
            free = (now if free is None else free) + work.way_min
        if free is not None:
            bounds.append(Bound("lane", lane, free))
    if work.not_before_pet_min is not None:
        bounds.append(Bound("not before", None, work.not_before_pet_min))
    if work.held_until_pet_min is not None:
        bounds.append(Bound("hold", None, work.held_until_pet_min))
    return bounds
