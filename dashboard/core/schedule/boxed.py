"""Boxed stops: how long work takes whose length the room sets beforehand.

A boxed stop ends at its set length (or its standing trim) plus an overrun of its own, in minutes. Few end early: a share of
`BOXED_EARLY_SHARE`, by up to `BOXED_EARLY_OF_LENGTH` of their length. The others run over by an exponential time. Its mean is
learned from the boxed stops of the sortie that are over: with a gamma prior on the rate the belief has a closed form, and
what is drawn is a Lomax (Pareto II) time, whose tail is heavy while little is known. No pace stretches a boxed stop.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from dashboard.core.record.lifecycle import DONE
from dashboard.core.record.record import Record
from dashboard.core.schedule.constants import value
from dashboard.core.schedule.float_or_array import Array

EARLY_SHARE = value("BOXED_EARLY_SHARE")
EARLY_OF_LENGTH = value("BOXED_EARLY_OF_LENGTH")
OVERRUN_MIN = value("BOXED_OVERRUN_MIN")
WORTH = value("BOXED_WORTH")


class Overrun(NamedTuple):
    """Belief about the overrun of a boxed stop that does not end early.

    Parameters
    ----------
    shape : float
        How many stops it is worth, plus 1.
    sum_min : float
        Their overruns together.
    """

    shape: float
    sum_min: float

    @property
    def mean_min(self) -> float:
        """Mean overrun, minutes."""
        return self.sum_min / (self.shape - 1.0)


def mean_overrun_min(set_min: float) -> float:
    """Mean time by which a boxed stop exceeds its set length, before any stop is over.

    Parameters
    ----------
    set_min
        The set length.

    Returns
    -------
    float
        Minutes; those that end early are counted too.
    """
    return (1.0 - EARLY_SHARE) * OVERRUN_MIN - EARLY_SHARE * EARLY_OF_LENGTH * set_min / 2


def learn_overrun(record: Record) -> Overrun:
    """What the boxed stops that are over say about the overrun of the next ones.

    Parameters
    ----------
    record
        Stops with an unknown start say nothing. Those that ended early say nothing about how far others run over.

    Returns
    -------
    Overrun
        The prior where no such stop is over.
    """
    seen = [
        run.worked_before_min - run.planned_min for run in record.runs.values()
        if run.task.boxed and run.state == DONE and run.start_pet_min is not None and run.worked_before_min > 0
    ] if record.pet_zero_doubt is None else []
    over = [minutes for minutes in seen if minutes >= 0]
    return Overrun(1.0 + WORTH + len(over), WORTH * OVERRUN_MIN + sum(over))


def boxed_draws(set_min: float, worked_min: float, overrun: Overrun, uniform: Array) -> Array:
    """Minutes that remain of a boxed stop, given that it was not over after `worked_min`.

    Parameters
    ----------
    set_min : float
        The set length, or the standing trim.
    worked_min : float
        0 for one that has not begun.
    overrun : Overrun
    uniform : array of shape (draws,)
        In (0, 1).

    Returns
    -------
    array of shape (draws,)
        Not negative.
    """
    earliest = set_min * (1.0 - EARLY_OF_LENGTH)
    if worked_min <= earliest:
        so_far = 0.0
    elif worked_min < set_min:
        so_far = EARLY_SHARE * (worked_min - earliest) / (set_min - earliest)
    else:
        so_far = 1.0 - (1.0 - EARLY_SHARE) * (1.0 + (worked_min - set_min) / overrun.sum_min) ** -overrun.shape
    target = so_far + uniform * (1.0 - so_far)
    early = earliest + (set_min - earliest) * target / EARLY_SHARE
    still = np.maximum((1.0 - target) / (1.0 - EARLY_SHARE), 1e-12)
    late = set_min + overrun.sum_min * (still ** (-1.0 / overrun.shape) - 1.0)
    left: Array = np.maximum(np.where(target < EARLY_SHARE, early, late) - worked_min, 0.0)
    return left
