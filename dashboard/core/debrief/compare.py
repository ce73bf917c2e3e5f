"""Two runs side by side, or one run beside its brief: ends, lanes, where the minutes went, tasks, and what was left.

A difference is the second less the first: positive is later or longer. Tasks are compared when both have the same id and
title.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

from dashboard.core.debrief.facts import Debrief, LaneDebrief, TaskRow

BRIEF = "the brief"


@dataclass(frozen=True)
class Pair:
    """A figure of the first and of the second, and their difference; None: not known."""

    first: float | None
    second: float | None

    @property
    def difference(self) -> float | None:
        """Second less first; None when one of them is not known."""
        return None if self.first is None or self.second is None else self.second - self.first


@dataclass(frozen=True)
class TaskPair:
    """A task in both: PET minutes of its start, and minutes that it took."""

    task: str
    title: str
    lanes: tuple[str, ...]
    start_pet_min: Pair
    worked_min: Pair


@dataclass(frozen=True)
class Comparison:
    """Two runs side by side.

    Parameters
    ----------
    first, second : str
        What they are called.
    end_pet_min : Pair
        End of the crew's work.
    lanes : dict of str to Pair
        End of each lane that both have, PET minutes.
    lost_min : dict of str to dict of str to Pair
        For each lane, for each kind of line in the ledger: minutes lost (positive) or gained against the brief. Empty beside
        the brief.
    tasks : tuple of TaskPair
        The largest difference in length first.
    only_first, only_second : tuple of str
        Tasks that only one of them has begun.
    left_first, left_second : tuple of str
        Tasks that each has left.
    """

    first: str
    second: str
    end_pet_min: Pair
    lanes: dict[str, Pair]
    lost_min: dict[str, dict[str, Pair]]
    tasks: tuple[TaskPair, ...]
    only_first: tuple[str, ...]
    only_second: tuple[str, ...]
    left_first: tuple[str, ...]
    left_second: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """The comparison as values for JSON.

        Returns
        -------
        dict
            With the names of the fields; each pair also has its `difference`.
        """

        def plain(value: Any) -> Any:
            if isinstance(value, dict) and value.keys() == {"first", "second"}:
                return value | {"difference": Pair(**value).difference}
            if isinstance(value, dict):
                return {key: plain(inner) for key, inner in value.items()}
            return [plain(inner) for inner in value] if isinstance(value, list | tuple) else value

        found = asdict(self)
        names = {key: found.pop(key) for key in ("first", "second")}
        return names | {key: plain(value) for key, value in found.items()}


def called(name: str, run: Debrief) -> str:
    """What a run is called in a comparison.

    Parameters
    ----------
    name : str
    run : Debrief

    Returns
    -------
    str
        It says so when the run has not ended, since its ends are then projected.
    """
    return f"{name} (not ended: projected)" if run.so_far else name


def beside_the_brief(name: str, run: Debrief) -> Comparison:
    """Compare a run with its brief.

    Parameters
    ----------
    name : str
        What the run is called.
    run : Debrief

    Returns
    -------
    Comparison
        The brief is the first.
    """
    rows = _rows(run)
    return Comparison(
        first=BRIEF,
        second=name,
        end_pet_min=Pair(run.end.briefed_pet_min, run.end.pet_min),
        lanes={lane: Pair(one.briefed_end_pet_min, one.end_pet_min) for lane, one in run.lanes.items()},
        lost_min={},
        tasks=_longest_first(
            TaskPair(
                row.task, row.title, tuple(row.lanes), Pair(row.briefed_start_pet_min, row.start_pet_min),
                Pair(row.briefed_min, row.worked_min),
            )
            for row in rows.values() if _begun(row) and row.origin == "briefed"
        ),
        only_first=tuple(row.task for row in rows.values() if row.origin == "briefed" and not _begun(row) and not row.get_ahead),
        only_second=tuple(row.task for row in rows.values() if row.origin != "briefed" and _begun(row)),
        left_first=(),
        left_second=tuple(one.task for one in run.carry_over),
    )


def side_by_side(first_name: str, first: Debrief, second_name: str, second: Debrief) -> Comparison:
    """Compare two runs.

    Parameters
    ----------
    first_name, second_name : str
        What they are called.
    first, second : Debrief

    Returns
    -------
    Comparison
    """
    ours, theirs = ({t: row for t, row in _rows(run).items() if _begun(row)} for run in (first, second))
    both = [t for t in ours if t in theirs and ours[t].title == theirs[t].title]
    return Comparison(
        first=first_name,
        second=second_name,
        end_pet_min=Pair(first.end.pet_min, second.end.pet_min),
        lanes={
            lane: Pair(one.end_pet_min, second.lanes[lane].end_pet_min)
            for lane, one in first.lanes.items() if lane in second.lanes
        },
        lost_min={
            lane: _lost(one, second.lanes[lane]) for lane, one in first.lanes.items() if lane in second.lanes
        },
        tasks=_longest_first(
            TaskPair(
                t, ours[t].title, tuple(ours[t].lanes), Pair(ours[t].start_pet_min, theirs[t].start_pet_min),
                Pair(ours[t].worked_min, theirs[t].worked_min),
            )
            for t in both
        ),
        only_first=tuple(t for t in ours if t not in both),
        only_second=tuple(t for t in theirs if t not in both),
        left_first=tuple(one.task for one in first.carry_over),
        left_second=tuple(one.task for one in second.carry_over),
    )


def _rows(run: Debrief) -> dict[str, TaskRow]:
    return {row.task: row for lane in run.lanes.values() for row in lane.tasks}


def _begun(row: TaskRow) -> bool:
    return row.start_pet_min is not None or row.finish_pet_min is not None


def _longest_first(tasks: Any) -> tuple[TaskPair, ...]:
    size: Callable[[TaskPair], float] = lambda one: -abs(one.worked_min.difference or 0.0)  # noqa: E731
    return tuple(sorted(tasks, key=size))


def _lost(first: LaneDebrief, second: LaneDebrief) -> dict[str, Pair]:
    kinds = dict.fromkeys(line.kind for lane in (first, second) for line in lane.ledger)
    return {kind: Pair(*(sum(x.minutes for x in lane.ledger if x.kind == kind) for lane in (first, second))) for kind in kinds}
