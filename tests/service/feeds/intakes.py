"""Intakes for feeds that are tried without a desk, and waiting for what a feed does."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Sequence
from typing import Any

from dashboard.core.base.problems import InputError, Problem
from dashboard.log.store import Quarantined

WAIT_S = 20.0
NO_STORE = Problem("event store", "a store of events", "no room left on the disk", "Make room.")


class Intake:
    """Takes what feeds bring, each id once; fails while it `is_full`, and refuses what `refuses` says."""

    def __init__(self) -> None:
        self.events: dict[str, dict[str, Any]] = {}
        self.unread: dict[tuple[str, str], Quarantined] = {}
        self.is_full = False
        self.refuses: Callable[[dict[str, Any], int], bool] = lambda item, together: False
        self._lock = threading.Lock()

    def take(self, items: Sequence[Any], name: str) -> list[dict[str, Any]]:
        """As the desk takes them."""
        with self._lock:
            if self.is_full:
                raise InputError([NO_STORE])
            return [self._one(item, len(items)) for item in items]

    def _one(self, item: Any, together: int) -> dict[str, Any]:
        if isinstance(item, Quarantined):
            self.unread.setdefault((str(item.item), item.why), item)
            return {"status": "quarantined", "why": item.why}
        if self.refuses(item, together):
            return {"status": "refused", "why": "It needs the lead key."}
        known = item["id"] in self.events
        self.events.setdefault(item["id"], item)
        return {"status": "already recorded" if known else "recorded", "why": None}

    @property
    def texts(self) -> list[str]:
        """The texts of the notes, in the order in which they came."""
        return [str(event.get("text")) for event in self.events.values()]

    @property
    def unread_lines(self) -> list[str]:
        """The lines that were kept as they came."""
        return [str(one.item) for one in self.unread.values()]


def until(condition: Callable[[], Any], what: str) -> None:
    """Wait for a condition; fails with `what` when it does not come."""
    deadline = time.monotonic() + WAIT_S
    while not condition():
        assert time.monotonic() < deadline, f"did not happen within {WAIT_S:g} s: {what}"
        time.sleep(0.01)


def note(text: str, **fields: Any) -> str:
    """A note as one line of JSON."""
    return json.dumps({"kind": "note", "text": text, **fields})
