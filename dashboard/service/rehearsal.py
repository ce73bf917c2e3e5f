"""The feed of a rehearsal: a recorded run up to a moment, then with the trainee's own decisions; saved as it grows."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

from dashboard.log.store import Outcome
from dashboard.service.feeds import Known, ReplayFeed
from replay.branch import Branch, branched
from replay.recording import RecordedRun


class RehearsalFeed(ReplayFeed):
    """A recorded run with recorded decisions left out from `at` on, and what the trainee enters in their place.

    Parameters
    ----------
    run : RecordedRun
    at : datetime
        From when on the trainee decides.
    save : callable
        Given the branch after every entry, and once at the beginning.
    """

    def __init__(self, run: RecordedRun, at: datetime, save: Callable[[Branch], None]) -> None:
        super().__init__(run)
        self._parent, self._from, self._save = run, at, save
        self.rehearsed_from = at
        self._saving = threading.Lock()
        self._rebranch()

    def read(self, now: datetime) -> Known:
        """What the room of the branch has at `now`."""
        run = self._branch.run
        return Known(run.known_at(now), run.unread_at(now) + self._unread(now))

    def append(self, items: Sequence[Any], received: datetime) -> list[Outcome]:
        """Take the trainee's events; the branch is judged again and saved."""
        outcomes = super().append(items, received)
        with self._saving:
            self._rebranch()
        return outcomes

    def _rows(self, now: datetime) -> dict[tuple[str, int | str], dict[str, Any]]:
        """Everything that the room of the branch has at `now`."""
        return {
            ("branch", event.id): event.model_dump(mode="json", by_alias=True, exclude_none=True)
            for event in self._branch.run.known_at(now)
        }

    def _rebranch(self) -> None:
        self._branch = branched(self._parent, self._from, self._entered())
        self._save(self._branch)
