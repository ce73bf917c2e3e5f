"""A store with 20,000 events: opening it, asking for what is new, and recording one more."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from itertools import count
from pathlib import Path

from dashboard.core.base.times import instant_text
from dashboard.log.store import EventStore
from tests.bench.make import PET_ZERO, log_rows, plan_table
from tests.bench.measure import Measured, timed

EVENTS = 20_000
AT_ONCE = 500


def measure() -> Iterator[Measured]:
    """In a SQLite file."""
    rows = log_rows(plan_table(60), EVENTS)
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'sortie.db'}"
        store = EventStore(url)
        for begin in range(0, EVENTS, AT_ONCE):
            store.append(rows[begin : begin + AT_ONCE], PET_ZERO)
        yield timed(f"open a store of {EVENTS} events", lambda: EventStore(url).close(), 5)
        yield timed("its events after the last", lambda: store.events_after(EVENTS), 20)
        names = (f"more-{number}" for number in count())
        more = {"at": instant_text(PET_ZERO), "kind": "note", "text": "x"}
        yield timed("one event recorded in it", lambda: store.append([{**more, "id": next(names)}], PET_ZERO), 20)
        store.close()
