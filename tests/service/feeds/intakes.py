"""An intake for feeds that are tried without a desk, and what a source may hold."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Sequence
from typing import Any

from dashboard.core.base.problems import InputError, Problem
from dashboard.log.store import Quarantined

NO_STORE = Problem("event store", "a store of events", "no room left on the disk", "Make room.")


class Intake:
    """Takes what feeds bring, each id once; fails while it `is_full`, and refuses what `refuses` says."""

    def __init__(self) -> None:
        self.events: dict[str, dict[str, Any]] = {}
        self.unread: dict[tuple[str, str], Quarantined] = {}
        self.names: set[str] = set()
        self.is_full = False
        self.refuses: Callable[[dict[str, Any], int], bool] = lambda item, together: False
        self._lock = threading.Lock()

    def take(self, items: Sequence[Any], name: str) -> list[dict[str, Any]]:
        """As the desk takes them."""
        with self._lock:
            if self.is_full:
                raise InputError([NO_STORE])
            self.names.add(name)
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


def note(text: str, **fields: Any) -> str:
    """A note as one line of JSON."""
    return json.dumps({"kind": "note", "text": text, **fields})
