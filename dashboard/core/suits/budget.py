"""The suit budget: what each suit has left, what the rest of the sortie needs, and until when it lasts.

Use is modelled as `base + per_watt * metabolic rate` over the work of the lane that wears the suit. The model is blended with
the readings that are believed (`readings.py`):

- What is left now is the last reading less modelled use since.
- Actual use over modelled use, up to the last reading, corrects all use that is modelled after it. The correction is shrunk
  towards 1, in the logarithm, by how few readings there are.
- A rate that neither the plan nor a published source gives is assumed. It limits nothing: `budgets` leaves such a consumable
  out, and only `every_budget` shows it. Once a reading shows what was used (`SHOWS_USE_SHARE`), use goes on as it was so far.
- Use since the last reading is corrected too. Without that, the time at which a reserve is reached would move later with
  every minute without a reading.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice, pairwise
from operator import itemgetter
from typing import NamedTuple

import numpy as np

from dashboard.core.plan.model import Consumable, Task
from dashboard.core.record.lifecycle import IN_WORK
from dashboard.core.record.record import AmountLeft, Record
from dashboard.core.schedule.durations import normals
from dashboard.core.schedule.float_or_array import Array
from dashboard.core.schedule.plan_pace import Projection
from dashboard.core.suits.constants import (
    DEFAULT_WORKLOAD,
    IDLE_WORKLOAD,
    LEAST_RATE_SPREAD,
    RATE_SPREAD_WITHOUT_READINGS,
    READINGS_FOR_HALF_TRUST,
    SHOWS_USE_SHARE,
    STALE_AFTER_MIN,
    TOLERATED_RISE_SHARE,
    WORKLOAD_W,
)
from dashboard.core.suits.physiology import ASSUMED, SOURCES, Rate, default_rates
from dashboard.core.suits.readings import (
    IN_DOUBT,
    JUMPS_DOWN,
    Believed,
    Modelled,
    Odd,
    believe,
    jumps_down,
)

BELOW_RESERVE = "below the reserve"
ASSUMED_RATE = "its rate is assumed, so it sets no limit"

_Piece = tuple[float, float, float]  # from PET, to PET, watts


class Doubt(NamedTuple):
    """A doubted reading, and the amount that was to be expected at its time."""

    reading: AmountLeft
    expected: float


@dataclass(frozen=True)
class Budget:
    """One consumable of one suit. Amounts in kg, or Wh for the battery; times in PET minutes.

    Parameters
    ----------
    left : float
        Estimated amount left now: the last reading (or what was loaded) less corrected modelled use since. Of a doubted reading
        and the one before it, the one that leaves less counts.
    reading : AmountLeft or None
        The last reading that is believed; None: there is none.
    loaded, reserve : float
        Of the plan.
    need : float
        Amount needed to the end of the sortie that the margin is against, at the corrected rate.
    rate_per_h : float
        Average corrected rate to the projected end; that of waiting when the end is past.
    reserve_reached_pet_min : float
        When `left` falls to `reserve`, counted from the last reading. It may lie in the past or after the end; infinite when
        nothing is used.
    margin_min : float
        `reserve_reached_pet_min` less the expected end where that is known, else less the plan-pace end.
    margin_plan_pace_min : float
        `reserve_reached_pet_min` less the plan-pace end.
    factor : float
        Correction of the modelled use that is still to come; 1 is as modelled.
    spread : float
        Standard deviation of the logarithm of the rate that is still to come.
    assumed : bool
        Whether the rate is assumed and no reading has shown the use yet. The figures then limit nothing.
    stale : bool
        Whether there was no reading for `STALE_AFTER_MIN`.
    odd : list of Odd
        The readings that are not believed.
    in_doubt : Odd or None
        The last reading, if it is not believed and is off by more than slightly.
    doubt : Doubt or None
        A reading lower than any workload explains. The figures above count from it until it is settled.
    flags : list of str
        What is odd about the readings, whether the rate is assumed, and whether the reserve is gone, in words.
    """

    left: float
    reading: AmountLeft | None
    loaded: float
    reserve: float
    need: float
    rate_per_h: float
    reserve_reached_pet_min: float
    margin_min: float
    margin_plan_pace_min: float
    factor: float
    spread: float
    assumed: bool
    stale: bool
    odd: list[Odd] = field(default_factory=list)
    in_doubt: Odd | None = None
    doubt: Doubt | None = None
    flags: list[str] = field(default_factory=list)


def watts(task: Task | None) -> float:
    """Metabolic rate of a task.

    Parameters
    ----------
    task
        None: the lane waits.

    Returns
    -------
    float
        Watts; of the default workload when the task gives none.
    """
    if task is None:
        return WORKLOAD_W[IDLE_WORKLOAD]
    load = task.workload if task.workload is not None else DEFAULT_WORKLOAD
    return WORKLOAD_W[load] if isinstance(load, str) else float(load)


def workload_of_lane(record: Record, projection: Projection, lane: str, until_pet_min: float) -> list[_Piece]:
    """Metabolic rate of a lane from PET zero on: work as logged, then as projected, with waiting in between.

    Parameters
    ----------
    record : Record
    projection : Projection
        Of the record.
    lane : str
    until_pet_min : float
        The projected end, or now where that is past: waiting is filled in up to here. A sortie that goes on longer is late, and
        the lane then works on at the mean rate of what was still to come.

    Returns
    -------
    list of (float, float, float)
        From PET minutes, to PET minutes, watts; in order of time, without gaps. The last piece has no end.
    """
    spans: list[_Piece] = []
    now = max(0.0, record.pet_min)
    for run in record.runs.values():
        if lane not in run.lanes:
            continue
        load = watts(run.task)
        spans += [(begin, end, load) for begin, end in run.spans]
        if run.working_since_pet_min is not None:
            spans.append((run.working_since_pet_min, now, load))
        slot = projection.slots.get(run.task.id)
        if slot is not None:
            spans.append((now if run.state == IN_WORK else slot.start_pet_min, slot.finish_pet_min, load))
    pieces: list[_Piece] = []
    at = 0.0
    for begin, end, load in sorted(spans):
        if end <= at:
            continue
        if begin > at:
            pieces.append((at, begin, watts(None)))
            at = begin
        pieces.append((at, end, load))
        at = end
    if at < until_pet_min:
        pieces.append((at, until_pet_min, watts(None)))
        at = until_pet_min
    return [*pieces, (at, math.inf, _mean_watts(pieces, now, until_pet_min))]


def _mean_watts(pieces: Sequence[_Piece], begin: float, end: float) -> float:
    """Mean metabolic rate between two PETs; that of waiting when nothing lies between them."""
    if end <= begin:
        return watts(None)
    return sum(max(0.0, min(to, end) - max(since, begin)) * load for since, to, load in pieces) / (end - begin)


def use_between(pieces: Sequence[_Piece], rate: Rate, begin: float, end: float) -> float:
    """Modelled use between two PETs.

    Parameters
    ----------
    pieces : sequence of (float, float, float)
        As `workload_of_lane` makes them.
    rate : Rate
    begin, end : float
        PET minutes.

    Returns
    -------
    float
        In the unit of the rate times hours.
    """
    total = 0.0
    for piece_from, piece_to, load in islice(pieces, bisect_right(pieces, begin, key=itemgetter(1)), None):
        if piece_from >= end:
            break
        total += (min(piece_to, end) - max(piece_from, begin)) / 60.0 * (rate.base + rate.per_watt * load)
    return total


class UseFrom:
    """Modelled use from one PET on, for many ends: that of `use_between`, without adding up the same pieces again.

    Parameters
    ----------
    pieces : sequence of (float, float, float)
        As `workload_of_lane` makes them.
    rate : Rate
    begin : float
        PET minutes.
    """

    def __init__(self, pieces: Sequence[_Piece], rate: Rate, begin: float) -> None:
        total, self._ends, self._pieces = 0.0, list[float](), list[tuple[float, float, float, float]]()
        for piece_from, piece_to, load in islice(pieces, bisect_right(pieces, begin, key=itemgetter(1)), None):
            since, per_hour = max(piece_from, begin), rate.base + rate.per_watt * load
            self._ends.append(piece_to)
            self._pieces.append((piece_from, since, per_hour, total))
            total += (piece_to - since) / 60.0 * per_hour

    def until(self, end: float) -> float:
        """Use up to a PET.

        Parameters
        ----------
        end
            PET minutes, not before the begin.

        Returns
        -------
        float
            In the unit of the rate times hours.
        """
        piece_from, since, per_hour, used = self._pieces[bisect_left(self._ends, end)]
        return used if piece_from >= end else used + (end - since) / 60.0 * per_hour


def pet_when_used(pieces: Sequence[_Piece], rate: Rate, begin: float, amount: float) -> float:
    """PET minutes at which an amount has been used.

    Parameters
    ----------
    pieces : sequence of (float, float, float)
        As `workload_of_lane` makes them.
    rate : Rate
    begin : float
        PET minutes from which use counts.
    amount : float
        In the unit of the rate times hours.

    Returns
    -------
    float
        `begin` when `amount` is not positive; infinite when it is never used.
    """
    if amount <= 0:
        return begin
    at, left = begin, amount
    for piece_from, piece_to, load in pieces:
        if piece_to <= at:
            continue
        at = max(at, piece_from)
        per_min = (rate.base + rate.per_watt * load) / 60.0
        if per_min > 0 and left <= per_min * (piece_to - at):
            return at + left / per_min
        left -= per_min * (piece_to - at) if per_min > 0 else 0.0
        at = piece_to
    return math.inf


def rate_of(name: str, given: Consumable) -> Rate:
    """Rate of a consumable: of the plan where it gives one, else the default from physiology.

    Parameters
    ----------
    name
        Of the consumable: ``oxygen``, ``co2``, ``battery`` or ``water``.
    given
        The consumable in the plan. Its `base` or `per_watt` is None where the plan gives none.

    Returns
    -------
    Rate
        In kg/h, or in W for the battery.
    """
    default = default_rates()[name]
    return Rate(
        default.base if given.base is None else given.base,
        default.per_watt if given.per_watt is None else given.per_watt,
    )


def is_assumed(name: str, given: Consumable) -> bool:
    """Whether neither the plan nor a published source gives the rate of a consumable.

    Parameters
    ----------
    name
        Of the consumable: ``oxygen``, ``co2``, ``battery`` or ``water``.
    given
        The consumable in the plan. Its `base` is what an assumed rate consists of.

    Returns
    -------
    bool
    """
    return name in ASSUMED and given.base is None


def rate_origin(name: str, given: Consumable) -> str:
    """Where the rate of a consumable comes from, in words.

    Parameters
    ----------
    name
        Of the consumable: ``oxygen``, ``co2``, ``battery`` or ``water``.
    given
        The consumable in the plan.

    Returns
    -------
    str
        Such as "rate of the plan"; a default rate comes with its source.
    """
    if is_assumed(name, given):
        return f"assumed from {SOURCES[name]}, as the plan gives no rate: sets no limit until a reading shows the use"
    of_plan = [given.base is not None, given.per_watt is not None]
    if all(of_plan):
        return "rate of the plan"
    default = f"default rate from {SOURCES[name]}"
    return f"rate of the plan in part, else {default}" if any(of_plan) else default


def budgets(record: Record, projection: Projection) -> dict[tuple[str, str], Budget]:
    """The budgets that may set a limit or be a reason for advice: those of `every_budget` that do not rest on an assumed rate.

    Parameters
    ----------
    record : Record
    projection : Projection
        Of the record.

    Returns
    -------
    dict of (str, str) to Budget
        (suit, consumable) -> budget.
    """
    return {which: one for which, one in every_budget(record, projection).items() if not one.assumed}


def every_budget(
    record: Record, projection: Projection, expected_end_pet_min: float | None = None
) -> dict[tuple[str, str], Budget]:
    """The budget of every consumable of every suit that a lane wears.

    Parameters
    ----------
    record : Record
    projection : Projection
        Of the record: the work to come, and its end.
    expected_end_pet_min : float, optional
        P50 of the end. Need and margin are against it; None: against the end at plan pace.

    Returns
    -------
    dict of (str, str) to Budget
        (suit, consumable) -> budget; empty when the projection has no end.
    """
    end = projection.end_pet_min
    if end is None:
        return {}
    now = max(0.0, record.pet_min)
    ends = _Ends(max(end, now), max(end if expected_end_pet_min is None else expected_end_pet_min, now))
    wearer = {lane.suit: lane.id for lane in record.plan.lanes if lane.suit is not None}
    found: dict[tuple[str, str], Budget] = {}
    for suit in record.plan.suits:
        if suit.id not in wearer:
            continue
        pieces = workload_of_lane(record, projection, wearer[suit.id], ends.plan_pace_pet_min)
        for name, given in suit.consumables().items():
            readings = record.readings.get((suit.id, name), [])
            found[suit.id, name] = _budget(name, given, readings, pieces, now, ends)
    return found


class _Ends(NamedTuple):
    """The end at plan pace, and the one that need and margin are against. Neither is before now."""

    plan_pace_pet_min: float
    counts_pet_min: float


def _budget(
    name: str, given: Consumable, readings: Sequence[AmountLeft], pieces: Sequence[_Piece], now: float, ends: _Ends,
) -> Budget:
    rate, end = rate_of(name, given), ends.counts_pet_min

    def modelled(begin: float, until: float) -> float:
        return use_between(pieces, rate, begin, until)

    believed = believe(given, readings, modelled)
    not_given = is_assumed(name, given)
    factor, spread, shows_use = correction(given, believed.readings, modelled, assumed=not_given)
    corrected = Rate(rate.base * factor, rate.per_watt * factor)
    before = believed.readings[-1]

    def left_at(pet_min: float, reading: AmountLeft) -> float:
        return max(0.0, reading.value - use_between(pieces, corrected, reading.pet_min, pet_min))

    counts = min([before, *believed.doubted], key=lambda reading: left_at(now, reading))
    left = left_at(now, counts)
    need = use_between(pieces, corrected, now, end)
    reached = pet_when_used(pieces, corrected, counts.pet_min, counts.value - given.reserve)
    hours = max(end - now, 1.0) / 60.0
    assumed = not_given and not shows_use and not believed.doubted
    doubt = Doubt(counts, left_at(counts.pet_min, before)) if counts in believed.doubted else None
    last_pet = max(reading.pet_min for reading in (before, *believed.doubted))
    state_flags = [ASSUMED_RATE] if assumed else [BELOW_RESERVE] if left < given.reserve else []
    return Budget(
        left=left,
        reading=before if before.event else None,
        loaded=given.loaded,
        reserve=given.reserve,
        need=need,
        rate_per_h=need / hours if end > now else corrected.base + corrected.per_watt * watts(None),
        reserve_reached_pet_min=reached,
        margin_min=reached - end,
        margin_plan_pace_min=reached - ends.plan_pace_pet_min,
        factor=factor,
        spread=spread,
        assumed=assumed,
        stale=now - last_pet > STALE_AFTER_MIN,
        odd=believed.odd,
        in_doubt=believed.in_doubt,
        doubt=doubt,
        flags=[*state_flags, *_reading_flags(given, believed, modelled, now)],
    )


class Correction(NamedTuple):
    """Correction of the modelled use that is still to come.

    Parameters
    ----------
    factor : float
        1 without evidence.
    spread : float
        Standard deviation of the logarithm of the rate that is still to come.
    shows_use : bool
        Whether the readings show enough use to replace an assumed rate.
    """

    factor: float
    spread: float
    shows_use: bool


def correction(
    given: Consumable, believed: Sequence[AmountLeft], modelled: Modelled, *, assumed: bool = False
) -> Correction:
    """Correction of the modelled use that is still to come.

    It is actual over modelled use from what was loaded (or from a reading at the start, if there is one) to the last reading,
    its logarithm weighed by n / (n + 2) for n readings. A fill above what was loaded says nothing about use, and neither does
    an empty tank: both are left out. An assumed rate has no weight: once the readings show use, use goes on as it was so far.

    Parameters
    ----------
    given : Consumable
    believed : sequence of AmountLeft
        In order of time; the first is what was loaded.
    modelled : callable
        From PET minutes, to PET minutes -> modelled use.
    assumed : bool
        Whether the modelled rate is only assumed.

    Returns
    -------
    Correction
    """
    begin = max(i for i, reading in enumerate(believed) if i == 0 or reading.pet_min <= 1.0)
    stretches = [
        (before, after) for before, after in pairwise(believed[begin:])
        if after.value > 0 and after.value - before.value <= TOLERATED_RISE_SHARE * given.loaded
    ]
    expected = sum(modelled(before.pet_min, after.pet_min) for before, after in stretches)
    actual = sum(before.value - after.value for before, after in stretches)
    shows_use = actual >= SHOWS_USE_SHARE * given.loaded
    if expected <= 0 or actual <= 0 or (assumed and not shows_use):
        return Correction(1.0, RATE_SPREAD_WITHOUT_READINGS, shows_use)
    trust = len(stretches) / (len(stretches) + READINGS_FOR_HALF_TRUST)
    spread = max(LEAST_RATE_SPREAD, RATE_SPREAD_WITHOUT_READINGS * math.sqrt(1 - trust))
    weight = 1.0 if assumed else trust
    return Correction(math.exp(weight * math.log(actual / expected)), spread, shows_use)


def _reading_flags(given: Consumable, believed: Believed, modelled: Modelled, now: float) -> list[str]:
    """What is odd about the readings of one consumable, in words; each flag once."""
    flags = [*([IN_DOUBT] if believed.doubted else []), *(odd.why for odd in believed.odd)]
    for before, after in pairwise(believed.readings):
        if modelled(before.pet_min, after.pet_min) > 0 and jumps_down(given, before, after, modelled):
            flags.append(JUMPS_DOWN)
    last = believed.readings[-1]
    if now - max(one.pet_min for one in (last, *believed.doubted)) > STALE_AFTER_MIN:
        flags.append("the last reading is stale" if last.event or believed.doubted else "no reading yet")
    return list(dict.fromkeys(flags))


def limit_draws(
    budget: Mapping[tuple[str, str], Budget], now: float, seed: int, draws: int
) -> Array | None:
    """When the first reserve of any suit is reached, in each draw. The rate that is still to come is log-normal.

    Parameters
    ----------
    budget : mapping of (str, str) to Budget
        As `budgets` makes it.
    now : float
        PET minutes.
    seed, draws : int

    Returns
    -------
    array of shape (draws,) or None
        PET minutes; None when no reserve is ever reached.
    """
    earliest: Array | None = None
    for (suit, name), one in budget.items():
        span = one.reserve_reached_pet_min - now
        if not math.isfinite(span):
            continue
        factor = np.exp(-one.spread * normals(seed, f"rate of {name} in suit {suit}", draws))
        reached = now + max(span, 0.0) * factor
        earliest = reached if earliest is None else np.minimum(earliest, reached)
    return earliest
