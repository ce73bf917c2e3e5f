"""Events that were received already but are dated after now: they count from their time on, and a discrepancy says so.

They arise when the clock of the server is set back, or when a time is mistyped. Only events that were received by now are
judged: when a log is followed at an earlier instant, its later events do not exist yet.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from dashboard.core.base.findings import Discrepancy
from dashboard.core.base.minutes import length
from dashboard.core.base.times import instant_text, minutes_between
from dashboard.core.events.event import Event

AHEAD_MIN = 1.0  # clocks of a room differ by less


def dated_ahead(events: Iterable[Event], now: datetime) -> list[Event]:
    """The events that were received by `now` and are dated more than `AHEAD_MIN` after it.

    Parameters
    ----------
    events
        In any order. An event that does not say when it was received is left out.
    now
        Aware.

    Returns
    -------
    list of Event
        In the order of `events`.
    """
    return [
        e for e in events
        if e.received is not None and e.received <= now and minutes_between(now, e.at) > AHEAD_MIN
    ]  # fmt: skip


def ahead_discrepancies(events: Iterable[Event], now: datetime) -> list[Discrepancy]:
    """A discrepancy for every event that is dated ahead.

    Parameters
    ----------
    events
        What `dated_ahead` found.
    now
        Aware; that of `dated_ahead`.

    Returns
    -------
    list of Discrepancy
        One for each event, in the same order. Each says how long after `now` the event is dated.
    """
    return [
        Discrepancy(
            event=e.id, at=e.at, expected="a time up to now",
            found=f"{instant_text(e.at)}, {length(minutes_between(now, e.at))} after now; it counts from then on",
        )
        for e in events
    ]
