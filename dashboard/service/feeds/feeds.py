"""All feeds of one server."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from datetime import datetime

from dashboard.service.feeds.feed import Feed, Take
from dashboard.service.feeds.status import FeedSeen


class Feeds:
    """The feeds of one server.

    Parameters
    ----------
    feeds : sequence of Feed
        Each with a name of its own.
    """

    def __init__(self, feeds: Sequence[Feed] = ()) -> None:
        self._feeds = tuple(feeds)
        self._lock = threading.Lock()
        self._started = self._closed = False

    @property
    def names(self) -> list[str]:
        """The names of the feeds."""
        return [feed.name for feed in self._feeds]

    def start(self, take: Take, since: datetime | None = None) -> None:
        """Start every feed. A second call, or a call after `close`, does nothing.

        Parameters
        ----------
        take
            As in `Feed.start`.
        since
            As in `Feed.start`.
        """
        with self._lock:
            if self._started or self._closed:
                return
            self._started = True
        for feed in self._feeds:
            feed.start(take, since)

    def close(self) -> None:
        """Stop every feed, and wait for each up to `CLOSING_S`."""
        with self._lock:
            self._closed = True
        for feed in self._feeds:
            feed.stop()
        for feed in self._feeds:
            feed.close()

    def seen(self) -> list[FeedSeen]:
        """State of each feed now."""
        return [feed.status.seen() for feed in self._feeds]

    def to_look_after(self) -> list[str]:
        """Sentences that the board shows about feeds that are not in order."""
        return [seen.said for seen in self.seen() if not seen.is_in_order]
