"""Simulates the use of the suits' consumables, and their readings."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from dashboard.core.plan.model import CONSUMABLES, Plan, Task
from dashboard.core.suits.budget import rate_of, watts

SUIT_SPREAD = 0.08
READING_EVERY_MIN = 30.0

Rng = np.random.Generator


class SimulatedSuits:
    """The amounts that each suit has left. Use is that of the suit budget's model times a random factor per consumable."""

    def __init__(self, plan: Plan, rng: Rng) -> None:
        self.worn = {lane.suit: lane.id for lane in plan.lanes if lane.suit is not None}
        self.plan, self.rng = plan, rng
        self.given = {s.id: s.consumables() for s in plan.suits if s.id in self.worn and s.consumables()}
        self.worn = {suit: lane for suit, lane in self.worn.items() if suit in self.given}
        self.left = {(s, name): one.loaded for s, given in self.given.items() for name, one in given.items()}
        self.factor = {key: float(np.exp(SUIT_SPREAD * rng.standard_normal())) for key in self.left}
        self.due = 1.0

    def use(self, loads: Mapping[str, Task], begin: float, end: float) -> None:
        """Take off what the suits use in an interval.

        Parameters
        ----------
        loads
            Lane -> the task that it is at; a lane that is not named waits.
        begin, end
            PET minutes.
        """
        for (suit, name), left in self.left.items():
            rate = rate_of(name, self.given[suit][name])
            per_h = rate.base + rate.per_watt * watts(loads.get(self.worn[suit]))
            self.left[suit, name] = max(0.0, left - self.factor[suit, name] * per_h * (end - begin) / 60)

    def read(self, now: float) -> list[dict[str, Any]]:
        """Read every suit, and set when the next reading is due.

        Parameters
        ----------
        now
            PET minutes.

        Returns
        -------
        list of dict
            For each suit its id and what is left, as the fields of a reading: kg to three decimals, the battery in whole Wh.
        """
        self.due = now + READING_EVERY_MIN * float(self.rng.uniform(0.9, 1.1))
        return [
            {
                "suit": suit,
                **{
                    name: round(self.left[suit, name], 0 if name == "battery" else 3)
                    for name in CONSUMABLES
                    if (suit, name) in self.left
                },
            }
            for suit in self.worn
        ]
