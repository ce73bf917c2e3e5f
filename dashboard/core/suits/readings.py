"""Which readings of a suit are believed. A wrong one must not make the outlook rosier, nor teach a rate of use.

What a suit has left only falls. So of two readings that contradict each other the lower is believed, until a later
reading bears the higher one out:

- A reading above what was loaded, by more than `KNOWN_WITHIN_SHARE` of it, is never believed.
- A reading that rises above the last believed one, by more than `TOLERATED_RISE_SHARE` of what was loaded, waits. It is
  believed once a reading of a later time agrees with it, with none at the lower level in between: the same one entered
  twice says no more than once. To agree is not to rise above it, and not to fall from it by more than `jumps_down`
  allows. The lower readings that it contradicts are then left out: they were the wrong ones.
- A reading that falls is believed at once, however far. A jump is flagged.

What is not believed is left out altogether: use is counted from the last believed reading to the next believed one. Where
it is off by no more than `KNOWN_WITHIN_SHARE` of what was loaded it is `slight`: a gauge is read to a graduation, and nobody
need amend that. (Apollo 16 EVA-1: oxygen called down by the percent, once a percent up.)
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from typing import NamedTuple

from dashboard.core.base.findings import Discrepancy
from dashboard.core.base.times import plus_minutes
from dashboard.core.plan.model import CONSUMABLE_NAMES, CONSUMABLE_UNITS, Consumable
from dashboard.core.record.record import Reading

TOLERATED_RISE_SHARE = 0.001
KNOWN_WITHIN_SHARE = 0.02  # how well an amount is known; common practice, no source
JUMP_FACTOR = 2.5
JUMP_SHARE = 0.02

RISES = "a reading rises"
ABOVE_LOADED = "a reading is above what was loaded"
TOO_LOW = "a reading is lower than those after it"
JUMPS_DOWN = "a reading jumps down"

Modelled = Callable[[float, float], float]  # use between two PETs, in the unit of the readings


class Odd(NamedTuple):
    """A reading that is not believed, why, and the one that speaks against it."""

    reading: Reading
    why: str
    against: Reading
    slight: bool


class Believed(NamedTuple):
    """The readings that are believed, what was loaded first, and the others; both in the order of time.

    `in_doubt` is the last reading when it is not believed, and off by more than slightly.
    """

    readings: list[Reading]
    odd: list[Odd]
    in_doubt: Odd | None


def believe(given: Consumable, readings: Iterable[Reading], modelled: Modelled) -> Believed:
    """Sort the readings of one consumable of one suit by the rules above.

    Parameters
    ----------
    given : Consumable
    readings : iterable of Reading
        In the order of time.
    modelled : callable
        From PET, to PET -> modelled use.
    """
    loaded = Reading(0.0, given.loaded, "")
    believed = [loaded]
    odd: list[Odd] = []
    waiting: list[Reading] = []

    def rises(before: Reading, after: Reading) -> bool:
        share = KNOWN_WITHIN_SHARE if before is loaded else TOLERATED_RISE_SHARE
        return after.value - before.value > share * given.loaded

    def bears_out(after: Reading, before: Reading) -> bool:
        later = after.pet_min > before.pet_min
        return later and not rises(before, after) and not jumps_down(given, before, after, modelled)

    def leave_out(one: Reading, why: str, against: Reading) -> None:
        slight = abs(one.value - against.value) <= KNOWN_WITHIN_SHARE * given.loaded
        odd.append(Odd(one, why, against, slight))

    last = None
    for last in readings:
        if rises(loaded, last):
            leave_out(last, ABOVE_LOADED, loaded)
        elif not rises(believed[-1], last):
            for other in waiting:
                leave_out(other, RISES, believed[-1])
            waiting = []
            believed.append(last)
        elif (borne_out := next((one for one in reversed(waiting) if bears_out(last, one)), None)) is None:
            waiting.append(last)
        else:
            for other in waiting:
                if (other.pet_min, other.value) != (borne_out.pet_min, borne_out.value):
                    leave_out(other, RISES, believed[-1])
            waiting = []
            while rises(believed[-1], borne_out):
                leave_out(believed.pop(), TOO_LOW, borne_out)
            believed += [borne_out, last]
    for other in waiting:
        leave_out(other, RISES, believed[-1])
    odd.sort(key=lambda one: one.reading.pet_min)
    return Believed(believed, odd, next((one for one in odd if one.reading is last and not one.slight), None))


def jumps_down(given: Consumable, before: Reading, after: Reading, modelled: Modelled) -> bool:
    """Whether far more was used between two readings than is modelled: `JUMP_FACTOR` times, and `JUMP_SHARE` of the load."""
    allowed = JUMP_FACTOR * modelled(before.pet_min, after.pet_min) + JUMP_SHARE * given.loaded
    return before.value - after.value > allowed


def discrepancy_of(odd: Odd, suit: str, name: str, pet_zero: datetime) -> Discrepancy:
    """What was expected and found of a reading that is not believed, and what to do about it."""
    level = amount_read(odd.against.value, name)
    expected = {
        ABOVE_LOADED: f"no more than the {level} that were loaded",
        RISES: f"no more than the {level} of the reading before it",
        TOO_LOW: f"no less than the {level} of a later reading that another bears out",
    }[odd.why]
    return Discrepancy(
        event=odd.reading.event,
        at=plus_minutes(pet_zero, odd.reading.pet_min),
        pet_min=odd.reading.pet_min,
        expected=f"suit {suit} {CONSUMABLE_NAMES[name]}: {expected}",
        found=f"{amount_read(odd.reading.value, name)}, not believed: amend or withdraw the reading that is wrong",
    )


def amount_read(value: float, name: str) -> str:
    """An amount as it was entered, with its unit."""
    return f"{value:g} {CONSUMABLE_UNITS[name]}"
