"""What recorded runs say of the length of a task, as the checks take it. `replay/learn.py` works it out."""

from __future__ import annotations

from typing import NamedTuple


class LearnedLength(NamedTuple):
    """The learned length of one task.

    Parameters
    ----------
    median_min : float
        Minutes.
    low_min, high_min : float
        80 % of the belief about `median_min` lie between them.
    tasks, runs : int
        Finished tasks of this kind, and runs, that it was learned from.
    """

    median_min: float
    low_min: float
    high_min: float
    tasks: int
    runs: int
