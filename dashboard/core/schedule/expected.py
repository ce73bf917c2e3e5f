"""The expected projection: the forward pass over many draws of the lengths at once.

It means: if nothing more is given up. Its schedule has the rules of the projection at plan pace (`forward.py`), with the
lengths and holds of `lengths.py`. An open alternative is taken as its option in force.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from dashboard.core.record.record import Record
from dashboard.core.schedule.durations import percentiles
from dashboard.core.schedule.float_or_array import Array
from dashboard.core.schedule.forward import forward
from dashboard.core.schedule.lengths import DrawnLengths, StartAndFinish
from dashboard.core.schedule.network import finished_pet_min, now_of, work_to_place
from dashboard.core.schedule.pace import Pace, learn_pace
from dashboard.core.schedule.plan_pace import Projection
from dashboard.core.schedule.windows import windows_by_kind

DRAWS = 5000
SEED = 2031
PACE = "pace"


@dataclass(frozen=True)
class Expected:
    """Draws of the sortie. PET minutes; one array of shape (draws,) for each task, in the order of `tasks`.

    Parameters
    ----------
    tasks : tuple of str
        In the order in which they were placed.
    starts, finishes : list of array of shape (draws,)
        Kept as single rows: one large block costs more to ask for than to fill.
    end : array of shape (draws,)
        Latest finish over the crew lanes.
    own : list of array of shape (draws,)
        Length of each task in minutes, with the pace taken out.
    common : array of shape (draws,)
        Logarithm of the pace that the crew's tasks share, weighed by their lengths.
    pace : Pace
    """

    tasks: tuple[str, ...]
    starts: list[Array]
    finishes: list[Array]
    end: Array
    own: list[Array]
    common: Array
    pace: Pace

    @cached_property
    def start(self) -> Array:
        """All starts, shape (tasks, draws)."""
        return np.array(self.starts)

    @cached_property
    def finish(self) -> Array:
        """All finishes, shape (tasks, draws)."""
        return np.array(self.finishes)

    def finish_percentiles(self, percents: Sequence[float]) -> dict[str, list[float]]:
        """Percentiles of the finish of each task.

        Parameters
        ----------
        percents : sequence of float
            From 0 to 100.

        Returns
        -------
        dict of str to list of float
            Task -> PET minutes, one for each of `percents`.
        """
        return {task_id: percentiles(row, percents) for task_id, row in zip(self.tasks, self.finishes, strict=True)}

    def drivers(self, projection: Projection, crew: set[str], lanes: Mapping[str, Sequence[str]]) -> list[Drive]:
        """Criticality and share of variance of each task, strongest first.

        A task is critical in a draw when something that sets the end begins the moment it is over, or when it is itself
        the last of the crew. Its share is the part of the variance of the end that its own length, pace taken out,
        explains: the squared correlation of the two. Lengths are drawn independently, so the shares of the tasks and of
        the pace they have in common (`PACE`) add up to 1 at most. The rest comes from holds, from windows, and from what
        tasks do only together (which of two lanes is the later one). A task may have a large share though it rarely sets
        the end: then it does so by much.

        Parameters
        ----------
        projection : Projection
            That the draws were made from.
        crew : set of str
            Crew lanes.
        lanes : mapping of str to sequence of str
            Task -> its lanes.

        Returns
        -------
        list of Drive
        """
        critical = [np.zeros(len(self.end), dtype=bool) for _ in self.tasks]
        row = {task_id: i for i, task_id in enumerate(self.tasks)}
        for task_id in reversed(self.tasks):
            i = row[task_id]
            if crew & set(lanes[task_id]):
                critical[i] |= self.finishes[i] >= self.end - 1e-6
            for other, lag in projection.successors.get(task_id, ()):
                j = row[other]
                critical[i] |= critical[j] & (self.finishes[i] + lag >= self.starts[j] - 1e-6)
        shares = _explained([*self.own, self.common], self.end)
        found = [Drive(t, float(critical[i].mean()), float(shares[i])) for t, i in row.items()]
        found.append(Drive(PACE, 1.0, float(shares[-1])))
        return sorted(found, key=lambda d: (-d.spread_share, -d.sets_end))


def _explained(rows: Sequence[Array], end: Array) -> Array:
    """Squared correlation of each row with the end; 0 for what does not vary."""
    ends = end - end.mean()
    together = np.array([row @ ends for row in rows])
    scale = np.array([row @ row - len(row) * row.mean() ** 2 for row in rows]) * (ends @ ends)
    shares: Array = np.divide(together**2, scale, out=np.zeros(len(rows)), where=scale > 1e-9)
    return shares


class Drive(NamedTuple):
    """How much a task drives the end: the share of draws in which it is critical, and its share of the variance."""

    task: str
    sets_end: float
    spread_share: float


def expect(
    record: Record, projection: Projection, *, seed: int = SEED, draws: int = DRAWS, pace: Pace | None = None,
    paced_at: Mapping[str, StartAndFinish] | None = None,
) -> Expected | None:
    """Draw the rest of the sortie.

    Parameters
    ----------
    record : Record
    projection : Projection
        Of the record, at plan pace: gives the order in which tasks are placed, and what each waits for.
    seed, draws : int
        The same seed gives the same answer.
    pace : Pace, optional
        Used instead of what this sortie shows.
    paced_at : mapping of str to StartAndFinish, optional
        Slots of another projection. The pace of a task is then that of the middle of its slot there, so that many changes
        of one record can be compared on the same lengths. A task that has none is taken at its briefed time.

    Returns
    -------
    Expected or None
        None when no crew task remains: the end is no longer a matter of chance.
    """
    crew = set(record.plan.crew_lane_ids())
    if not any(crew & set(record.runs[t].lanes) for t in projection.sequence):
        return None
    slots = projection.slots if paced_at is None else paced_at
    lengths = DrawnLengths(record, seed, draws, pace or learn_pace(record), slots)
    own: list[Array] = []

    def length(task_id: str) -> Array:
        drawn = lengths.of(record.runs[task_id])
        own.append(drawn.own_min)
        return drawn.length_min

    starts: list[Array] = []
    finishes: list[Array] = []
    end: Array = np.full(draws, -np.inf)
    for placed in forward(
        work_to_place(record, projection, lengths.held_until_pet_min, lengths.way_min), length,
        now_pet_min=now_of(record), lane_free_pet_min=lengths.lane_free_pet_min(projection.lane_free_first),
        finished_pet_min=finished_pet_min(record), windows=windows_by_kind(record.plan.windows),
    ):
        starts.append(np.broadcast_to(placed.start_pet_min, end.shape))
        finishes.append(np.broadcast_to(placed.finish_pet_min, end.shape))
        if crew & set(placed.work.lanes):
            np.maximum(end, placed.finish_pet_min, out=end)
    return Expected(
        tuple(projection.sequence), starts, finishes, end, own, lengths.common_pace_log(projection.slots), lengths.pace
    )
