"""The suits of the state."""

from __future__ import annotations

import numpy as np

from dashboard.core.plan.model import Consumable, Suit
from dashboard.core.state.computed import Computed, finite
from dashboard.core.state.model import (
    ConsumableState,
    DoubtedReading,
    SuitState,
)
from dashboard.core.suits.budget import Doubt


def suit_states(computed: Computed) -> dict[str, SuitState]:
    """Every suit: what it has left of each consumable, what it needs, and which one runs out first.

    Parameters
    ----------
    computed : Computed

    Returns
    -------
    dict of str to SuitState
        By suit.
    """
    return {suit.id: _suit_state(computed, suit) for suit in computed.record.plan.suits}


def _suit_state(computed: Computed, suit: Suit) -> SuitState:
    limiting = min(
        (name for name in suit.consumables() if (suit.id, name) in computed.budget),
        key=lambda name: computed.budget[suit.id, name].reserve_reached_pet_min,
        default=None,
    )
    first = computed.budget[suit.id, limiting] if limiting else None
    return SuitState(
        lanes=[lane.id for lane in computed.record.plan.lanes if lane.suit == suit.id],
        limiting=limiting,
        limit_pet_min=finite(first.reserve_reached_pet_min) if first else None,
        margin_min=finite(first.margin_min) if first else None,
        margin_plan_pace_min=finite(first.margin_plan_pace_min) if first else None,
        consumables={
            name: _consumable_state(computed, suit.id, name, given) for name, given in suit.consumables().items()
        },
    )


def _consumable_state(computed: Computed, suit: str, name: str, given: Consumable) -> ConsumableState:
    readings = computed.record.readings.get((suit, name))
    one = computed.shown.get((suit, name))
    read = one.reading if one else readings[-1] if readings else None
    late = None
    if one is not None and computed.expected is not None:
        p50, p90 = np.percentile(computed.expected.end, (50, 90))
        late = one.need + one.rate_per_h * float(p90 - p50) / 60.0
    return ConsumableState(
        left=one.left if one else read.value if read else None,
        reading=read.value if read else None,
        reading_pet_min=read.pet_min if read else None,
        doubted=_doubted(one.doubt) if one and one.doubt else None,
        loaded=given.loaded,
        reserve=given.reserve,
        need=one.need if one else None,
        need_p90=max(0.0, late) if late is not None else None,
        rate_per_h=one.rate_per_h if one else None,
        factor=one.factor if one else None,
        reserve_reached_pet_min=finite(one.reserve_reached_pet_min) if one else None,
        margin_min=finite(one.margin_min) if one else None,
        margin_plan_pace_min=finite(one.margin_plan_pace_min) if one else None,
        assumed=one.assumed if one else False,
        stale=one.stale if one else False,
        flags=one.flags if one else [],
    )


def _doubted(doubt: Doubt) -> DoubtedReading:
    return DoubtedReading(value=doubt.reading.value, pet_min=doubt.reading.pet_min, expected=doubt.expected)
