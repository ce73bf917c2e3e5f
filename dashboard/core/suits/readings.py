"""Which readings of a suit are believed. A wrong reading must neither make the figures look safer nor change a rate of use.

What a suit has left only falls. So of two readings that contradict each other the lower one is believed, until a later
reading confirms the higher one:

- A reading above what was loaded, by more than `KNOWN_WITHIN_SHARE` of it, is never believed.
- A reading that rises above the last believed one, by more than `TOLERATED_RISE_SHARE` of what was loaded, waits. It is
  believed once a reading of a later time agrees with it and no reading at the lower level lies in between. The same reading
  entered twice counts once. A reading agrees with an earlier one when it does not rise above it and does not fall below it
  by more than `jumps_down` allows. The lower readings that it contradicts were wrong and are then left out.
- A reading that falls is believed at once, however far it falls. A jump is flagged.

A reading that is not believed is flagged and enters no figure: use is counted from the last believed reading to the next one.
If it is off by more than slightly it is a discrepancy too, and an alert stands while it is the last reading. It is off
slightly (`slight`) when it is off by no more than `KNOWN_WITHIN_SHARE` of what was loaded: a gauge is read to a graduation, and
nobody needs to amend that. (Apollo 16 EVA-1: oxygen called down by the percent, once a percent up.)
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from typing import NamedTuple

from dashboard.core.base.findings import Discrepancy
from dashboard.core.base.times import plus_minutes
from dashboard.core.plan.model import CONSUMABLE_NAMES, CONSUMABLE_UNITS, Consumable
from dashboard.core.record.record import AmountLeft

TOLERATED_RISE_SHARE = 0.001
KNOWN_WITHIN_SHARE = 0.02  # how well an amount is known; common practice, no source
JUMP_FACTOR = 2.5
JUMP_SHARE = 0.02

RISES = "a reading rises"
ABOVE_LOADED = "a reading is above what was loaded"
TOO_LOW = "a reading is lower than those after it"
JUMPS_DOWN = "a reading jumps down"

Modelled = Callable[[float, float], float]  # from PET minutes, to PET minutes -> use in the unit of the readings


class Odd(NamedTuple):
    """A reading that is not believed, why, the reading against it, and whether it is off only slightly."""

    reading: AmountLeft
    why: str
    against: AmountLeft
    slight: bool


class Believed(NamedTuple):
    """The readings sorted by the rules above.

    Parameters
    ----------
    readings : list of AmountLeft
        Those that are believed, in order of time; the first is what was loaded.
    odd : list of Odd
        The others, in order of time.
    in_doubt : Odd or None
        The last reading, if it is not believed and is off by more than slightly.
    """

    readings: list[AmountLeft]
    odd: list[Odd]
    in_doubt: Odd | None


def believe(given: Consumable, readings: Iterable[AmountLeft], modelled: Modelled) -> Believed:
    """Sort the readings of one consumable of one suit by the rules above.

    Parameters
    ----------
    given : Consumable
    readings : iterable of AmountLeft
        In order of time.
    modelled : callable
        From PET minutes, to PET minutes -> modelled use.

    Returns
    -------
    Believed
    """
    loaded = AmountLeft(0.0, given.loaded, "")
    believed = [loaded]
    odd: list[Odd] = []
    waiting: list[AmountLeft] = []

    def rises(before: AmountLeft, after: AmountLeft) -> bool:
        share = KNOWN_WITHIN_SHARE if before is loaded else TOLERATED_RISE_SHARE
        return after.value - before.value > share * given.loaded

    def confirms(after: AmountLeft, before: AmountLeft) -> bool:
        later = after.pet_min > before.pet_min
        return later and not rises(before, after) and not jumps_down(given, before, after, modelled)

    def leave_out(one: AmountLeft, why: str, against: AmountLeft) -> None:
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
        elif (confirmed := next((one for one in reversed(waiting) if confirms(last, one)), None)) is None:
            waiting.append(last)
        else:
            for other in waiting:
                if (other.pet_min, other.value) != (confirmed.pet_min, confirmed.value):
                    leave_out(other, RISES, believed[-1])
            waiting = []
            while rises(believed[-1], confirmed):
                leave_out(believed.pop(), TOO_LOW, confirmed)
            believed += [confirmed, last]
    for other in waiting:
        leave_out(other, RISES, believed[-1])
    odd.sort(key=lambda one: one.reading.pet_min)
    return Believed(believed, odd, next((one for one in odd if one.reading is last and not one.slight), None))


def jumps_down(given: Consumable, before: AmountLeft, after: AmountLeft, modelled: Modelled) -> bool:
    """Whether far more was used between two readings than the model says.

    Parameters
    ----------
    given : Consumable
    before, after : AmountLeft
    modelled : callable
        From PET minutes, to PET minutes -> modelled use.

    Returns
    -------
    bool
        True when more was used than `JUMP_FACTOR` times the modelled use plus `JUMP_SHARE` of what was loaded.
    """
    allowed = JUMP_FACTOR * modelled(before.pet_min, after.pet_min) + JUMP_SHARE * given.loaded
    return before.value - after.value > allowed


def discrepancy_of(odd: Odd, suit: str, name: str, pet_zero: datetime) -> Discrepancy:
    """The discrepancy of a reading that is not believed.

    Parameters
    ----------
    odd : Odd
    suit, name : str
        The suit, and the consumable.
    pet_zero : datetime
        Aware.

    Returns
    -------
    Discrepancy
        With what was expected, what was found, and what to do about it.
    """
    level = amount_read(odd.against.value, name)
    expected = {
        ABOVE_LOADED: f"no more than the {level} that were loaded",
        RISES: f"no more than the {level} of the reading before it",
        TOO_LOW: f"no less than the {level} of a later reading that another one confirms",
    }[odd.why]
    return Discrepancy(
        event=odd.reading.event,
        at=plus_minutes(pet_zero, odd.reading.pet_min),
        pet_min=odd.reading.pet_min,
        expected=f"suit {suit} {CONSUMABLE_NAMES[name]}: {expected}",
        found=f"{amount_read(odd.reading.value, name)}, not believed: amend or withdraw the reading that is wrong",
    )


def amount_read(value: float, name: str) -> str:
    """An amount as it was entered, with its unit.

    Parameters
    ----------
    value
        In kg, or in Wh for the battery.
    name
        Of the consumable, which decides the unit.

    Returns
    -------
    str
        Such as ``0.31 kg``.
    """
    return f"{value:g} {CONSUMABLE_UNITS[name]}"
