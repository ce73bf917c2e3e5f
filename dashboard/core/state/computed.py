"""The results of one computation of the state, and numbers for JSON."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import Expected
from dashboard.core.schedule.pace import Pace
from dashboard.core.schedule.plan_pace import Projection
from dashboard.core.state.model import (
    LimitState,
    WorksiteState,
)
from dashboard.core.suits.budget import Budget
from dashboard.core.suits.place import Place
from dashboard.core.suits.turn_back import TurnBack


class Computed(NamedTuple):
    """The results of one computation of the state, from which its parts are made.

    Parameters
    ----------
    record : Record
    projection : Projection
        At plan pace.
    budget, shown : mapping of (suit, consumable) to Budget
        `budget` holds those that may set a limit, `shown` also those that rest on an assumed rate.
    expected : Expected or None
        None: nothing was drawn.
    limit : LimitState
    pace : Pace
    here : mapping of str to Place
        Where each lane is.
    turn_back : mapping of str to TurnBack or None
        For each crew lane that is out.
    worksites : mapping of str to WorksiteState
    """

    record: Record
    projection: Projection
    budget: Mapping[tuple[str, str], Budget]
    shown: Mapping[tuple[str, str], Budget]
    expected: Expected | None
    limit: LimitState
    pace: Pace
    here: Mapping[str, Place]
    turn_back: Mapping[str, TurnBack | None]
    worksites: Mapping[str, WorksiteState]


def finite(value: float) -> float | None:
    """A value for JSON, which has no infinity.

    Parameters
    ----------
    value
        Infinite for a time that is never reached.

    Returns
    -------
    float or None
        None when the value is infinite or not a number.
    """
    return value if math.isfinite(value) else None
