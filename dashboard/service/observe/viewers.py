"""The connected boards, and how far their clocks are off.

A board answers a message with the instant on its own clock and the instant at which the message was sent.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

from dashboard.core.base.times import parse_instant
from dashboard.service.observe.clocks import Offset, offset_of

LONGEST_ANSWER = timedelta(seconds=30)
LARGEST_TOLD_BYTES = 1000


class Viewer:
    """One connected board; `offset` is None until it has sent the time of its clock."""

    def __init__(self) -> None:
        self.offset: Offset | None = None

    def take_clock(self, text: str, heard: datetime) -> None:
        """Take what the board says about its clock; any other text is ignored.

        Parameters
        ----------
        text
            Text from the board.
        heard
            When it was received, on the clock of the server.
        """
        offset = _offset(text, heard)
        if offset is not None:
            self.offset = offset


class Viewers:
    """The boards of one server. Safe to use from several threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._viewers: set[Viewer] = set()

    @contextmanager
    def joined(self) -> Iterator[Viewer]:
        """Keep a board in the list while it is connected."""
        viewer = Viewer()
        with self._lock:
            self._viewers.add(viewer)
        try:
            yield viewer
        finally:
            with self._lock:
                self._viewers.discard(viewer)

    def __len__(self) -> int:
        """Number of connected boards."""
        return len(self._viewers)

    def offsets(self) -> list[Offset]:
        """Offsets of the boards that have sent the time of their clock."""
        with self._lock:
            return [viewer.offset for viewer in self._viewers if viewer.offset is not None]


def _offset(text: str, heard: datetime) -> Offset | None:
    if len(text) > LARGEST_TOLD_BYTES:
        return None
    try:
        told = json.loads(text)
        clock = datetime.fromtimestamp(float(told["clock_ms"]) / 1000, UTC)
        sent = parse_instant(told["sent"])
    except (ValueError, TypeError, KeyError, OverflowError, OSError, RecursionError):
        return None
    return offset_of(sent, clock, heard) if timedelta(0) <= heard - sent <= LONGEST_ANSWER else None
