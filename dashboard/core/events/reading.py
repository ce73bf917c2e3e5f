"""What a suit has left."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar, Literal

from pydantic import Field, model_validator

from dashboard.core.events.entry import AnyOf, Form, FormField
from dashboard.core.events.event import Event, Named, TaskName
from dashboard.core.events.recorder import Recorder
from dashboard.core.plan.model import CONSUMABLE_NAMES, CONSUMABLE_UNITS, CONSUMABLES, Identifier

MOST_LEFT = 1e6  # as much as a suit may have loaded


class Reading(Event):
    """What is left of the consumables of a suit, in units of the plan."""

    kind: Literal["reading"]
    suit: Identifier = Field(description="the suit that was read")
    oxygen: float | None = Field(default=None, ge=0, le=MOST_LEFT, description="oxygen left, kg")
    co2: float | None = Field(default=None, ge=0, le=MOST_LEFT, description="what the canister can still take up of CO2, kg")
    battery: float | None = Field(default=None, ge=0, le=MOST_LEFT, description="battery left, Wh")
    water: float | None = Field(default=None, ge=0, le=MOST_LEFT, description="cooling water left, kg")

    spoken_as: ClassVar[str] = "suit A oxygen 0.3 kg"
    is_timed: ClassVar[bool] = True
    form: ClassVar[Form | None] = Form(
        "Suit reading",
        (
            FormField("suit", "Suit", "suits"),
            *(FormField(c, f"{CONSUMABLE_NAMES[c]} left, {CONSUMABLE_UNITS[c]}", "number?") for c in CONSUMABLES),
        ),
        any_of=AnyOf(CONSUMABLES, "Suit reading: expected at least one amount; found none."),
    )

    @model_validator(mode="after")
    def _reads_something(self) -> Reading:
        if not self.left():
            raise ValueError("at least one of 'oxygen', 'co2', 'battery', 'water'")
        return self

    def left(self) -> dict[str, float]:
        """What is left, by consumable."""
        read = {"oxygen": self.oxygen, "co2": self.co2, "battery": self.battery, "water": self.water}
        return {name: value for name, value in read.items() if value is not None}

    def names(self) -> Iterator[Named]:
        yield Named("suit", self.suit)

    def apply(self, record: Recorder) -> None:
        record.read(self, self.suit, self.left())

    def in_words(self, name: TaskName) -> str:
        left = ", ".join(f"{consumable} {value:g} {CONSUMABLE_UNITS[consumable]}" for consumable, value in self.left().items())
        return f"suit {self.suit} left: {left}"
