"""The strip of a replay, with the events and the drift of the run: made on request, on another thread than the event loop.

It is kept until an event is entered in the replay; the next request then makes it again.
"""

from __future__ import annotations

import asyncio
from datetime import datetime
from typing import Any

import orjson

from dashboard.core.base.times import minutes_between
from dashboard.core.events.event import Event
from dashboard.core.state.history import drift_between, most_behind, worse_ahead_min
from dashboard.screens.replaybar import strip_html
from dashboard.service.desk import Desk
from replay.recording import RecordedRun

MOST_MARKS = 400


class Strips:
    """Makes the strip, and keeps the last one."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._one_at_a_time = asyncio.Lock()
        self._kept: tuple[tuple[int, datetime], bytes] | None = None

    async def json(self) -> bytes:
        """The strip of the run as it is now, as JSON. Requests that come while it is made wait here, and block no thread."""
        async with self._one_at_a_time:
            return await asyncio.to_thread(self._made)

    def _made(self) -> bytes:
        session = self._desk.session
        run, last, events = session.run, session.run_ends, self._desk.whole_run()
        if run is None or last is None:
            raise ValueError("a strip needs a replay")
        if self._kept is None or self._kept[0] != (len(events), last):
            self._kept = (len(events), last), orjson.dumps(strip_of(run, events, last))
        return self._kept[1]


def strip_of(run: RecordedRun, events: list[Event], last: datetime) -> dict[str, Any]:
    """Content of the strip of a run.

    Parameters
    ----------
    run
        The recorded run.
    events
        Its events, and those entered while it was replayed.
    last
        Where the strip ends. The drift ends with the last event that came in.

    Returns
    -------
    dict
        Plain values; times are PET in minutes from the PET zero of the run.
    """
    inside = [event for event in events if run.first <= event.came_in <= last]
    known_until = max((event.came_in for event in inside), default=last)
    decisions = sorted({minutes_between(run.pet_zero, e.came_in) for e in inside if e.is_decision})
    marks = _thinned_marks([minutes_between(run.pet_zero, e.came_in) for e in inside])
    drift = drift_between(run.plan, events, run.first, known_until, run.pet_zero)
    worst = most_behind(drift)
    span = minutes_between(run.pet_zero, run.first), minutes_between(run.pet_zero, last)
    return {
        "events": marks,
        "decisions": decisions,
        "drift": [{"pet_min": point.pet_min, "ahead_min": worse_ahead_min(point)} for point in drift],
        "worst": None if worst is None else {"pet_min": worst.pet_min, "ahead_min": worse_ahead_min(worst)},
        "html": strip_html(marks, decisions, drift, span),
    }


def _thinned_marks(pets: list[float], most: int = MOST_MARKS) -> list[float]:
    """At most `most` of these times. The span is cut into equal parts, and the first time of each part is kept."""
    found = sorted(set(pets))
    if len(found) <= most:
        return found
    first, span = found[0], found[-1] - found[0]
    kept: dict[int, float] = {}
    for pet in found:
        kept.setdefault(int((pet - first) / span * (most - 1)), pet)
    return list(kept.values())
