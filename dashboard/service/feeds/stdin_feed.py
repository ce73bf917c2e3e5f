"""Follows standard input, line by line: JSON Lines, or CSV with a header."""

from __future__ import annotations

import os
import select
import sys

from dashboard.service.feeds.entries import Reader
from dashboard.service.feeds.feed import Feed
from dashboard.service.feeds.lines import Lines
from dashboard.service.feeds.status import Status

NAME = "standard input"
WAIT_S = 0.2
PIECE_BYTES = 65_536
CURE = "Check the program that writes to it."
OVER = "the program that writes to it closed it. To follow it again, start both programs again."


class StdinFeed(Feed):
    """Standard input.

    Parameters
    ----------
    descriptor : int or None
        File descriptor to read; None: the standard input of this process.
    """

    def __init__(self, descriptor: int | None = None) -> None:
        super().__init__(Status(NAME, CURE))
        self._descriptor = descriptor
        self._reader = Reader(NAME, NAME)
        self._lines = Lines()

    def follow(self) -> None:
        descriptor = sys.stdin.fileno() if self._descriptor is None else self._descriptor
        while not self.is_stopped():
            # A thread that waits inside a read cannot be stopped. On Windows `select` does not work with a pipe.
            if sys.platform != "win32" and not select.select([descriptor], [], [], WAIT_S)[0]:
                continue
            data = os.read(descriptor, PIECE_BYTES)
            if not data:
                line = self._lines.take_part()
                entries = [] if line is None else self._reader.entries([line])
                self.hand_over([*entries, *self._reader.settle()])
                self.status.in_trouble("ended", OVER)
                return
            entries = self._reader.entries(self._lines.add(data))
            if entries:
                self.status.heard()
            if not self.hand_over(entries):
                return
