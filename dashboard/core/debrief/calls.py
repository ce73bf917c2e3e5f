"""The calls of a sortie, judged again as the room would have been told: each change of the call, in order.

Each call is judged from the events that had been received by then, and is handed the call before it. The room judged more
often than this does, so a change may have shown on the board some minutes before the instant that stands here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime

from dashboard.core.base.times import minutes_between, plus_minutes
from dashboard.core.debrief.facts import CallFact
from dashboard.core.deferral.advise import call_now
from dashboard.core.deferral.call import Call
from dashboard.core.record.record import Record

EVERY_MIN = 60.0
MOST_CALLS = 6
MOST_DRAWS = 200

RecordAt = Callable[[datetime], Record]


def calls_made(
    record_at: RecordAt, newest: Record, until_pet_min: float, *, draws: int,
    progress: Callable[[str, int, int], None] = lambda what, done, of: None,
) -> list[CallFact]:
    """Each change of the call: every hour, and just before each decision, is looked at.

    Parameters
    ----------
    record_at : callable
        Instant -> the record of the events that had been received by then.
    newest : Record
        It names the decisions.
    until_pet_min : float
        PET of the last instant that is looked at.
    draws : int
        At most `MOST_DRAWS` of them are used; 0: no calls, since a call is judged on draws.
    progress : callable
        Called before each instant, with what it is for, its number, and how many there are.

    Returns
    -------
    list of CallFact
        In order of time. The first one is left out while nobody is called.
    """
    if draws <= 0:
        return []
    zero = newest.pet_zero
    decided = (minutes_between(zero, event.at) for event in newest.counted.events if event.is_decision)
    pets = _instants(until_pet_min, decided)
    found: list[CallFact] = []
    previous: Call | None = None
    for place, pet_min in enumerate(pets, start=1):
        progress("calls", place, len(pets))
        record = record_at(plus_minutes(zero, pet_min))
        if record.pet_zero_doubt is not None or record.end_pet_min is not None:
            continue
        call = call_now(record, previous=previous, draws=min(draws, MOST_DRAWS))
        if call.call != ("none" if previous is None else previous.call):
            found.append(_fact(call))
        previous = call
    return found


def _instants(until_pet_min: float, decided: Iterable[float]) -> list[float]:
    """Every hour, and just before each decision; fewer of the former when there are too many."""
    step = max(EVERY_MIN, until_pet_min / MOST_CALLS)
    grid = {step * n for n in range(int(until_pet_min // step) + 1)} if until_pet_min >= 0 else set()
    return sorted(grid | {at - 1 / 60 for at in decided if 0 < at <= until_pet_min})


def _fact(call: Call) -> CallFact:
    return CallFact(
        pet_min=call.pet_min, call=call.call, why=call.why, by_pet_min=call.by_pet_min, changed_by=call.changed_by,
        for_now=[part.in_words() for part in call.for_now.parts()],
    )
