"""The feed of a rehearsal: a recorded run up to a moment, then with the trainee's own decisions; saved as it grows."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from typing import Any

from dashboard.core.base.times import minutes_between, parse_instant
from dashboard.log.store import Outcome
from dashboard.service.roles import ANSWERS
from dashboard.service.session.feeds import Known, ReplayFeed
from dashboard.words import pet_named
from replay.branch import Branch, branched
from replay.recording import RecordedRun

MOVES_PET_ZERO = (
    "PET zero stands as recorded: to move it would move the whole run, the time before the rehearsal included. "
    "Leave it, or say what you mean in a note."
)
INSTEAD = "Enter what is so from now on."


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
        self._told: Callable[[Branch], None] = lambda branch: None
        self._rebranch()

    @property
    def branch(self) -> Branch:
        """The branch as it is now."""
        return self._branch

    @property
    def rehearsal(self) -> str:
        """Of which run it is a rehearsal, and from when."""
        return self._branch.run.rehearsal

    def tell(self, told: Callable[[Branch], None]) -> None:
        """Have `told` called with the branch after every entry."""
        self._told = told

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
        self._told(self._branch)


def out_of_reach(item: Any, now: datetime, rehearsed_from: datetime, run: RecordedRun) -> str | None:
    """Why an item may not be entered in a rehearsal of `run`; None: it may.

    It may not when it is entered in the time before the rehearsal, speaks of that time, answers an event of it, or would
    move PET zero.
    """
    begins = _pet(run, rehearsed_from)
    if now < rehearsed_from:
        shown = _pet(run, now)
        return f"the board shows {shown}, and the rehearsal begins at {begins}: before it there is only to look. Go on to it."
    answered = _answered(item, run)
    if _told(item, "kind") == "clock" or (answered is not None and answered.kind == "clock"):
        return MOVES_PET_ZERO
    if answered is not None and (answered.received <= rehearsed_from or answered.at < rehearsed_from):
        what = f"the event {answered.id} ({answered.kind}, {_pet(run, answered.at)})"
        return f"{what} is of before the rehearsal, which begins at {begins}; what was before stands as recorded. {INSTEAD}"
    early = [at for at in _times(item) if at < rehearsed_from]
    if early:
        found = _pet(run, early[0])
        return f"this is of {found}, and the rehearsal begins at {begins}; what was before stands as recorded. Give a later time."
    return None


def _answered(item: Any, run: RecordedRun) -> Any | None:
    """The recorded event that an item amends or withdraws; None: it does neither, or answers one of the trainee's."""
    if _told(item, "kind") not in ANSWERS:
        return None
    return next((event for event in run.events if event.id == _told(item, "event")), None)


def _told(item: Any, key: str) -> Any:
    return item.get(key) if isinstance(item, dict) else None


def _pet(run: RecordedRun, instant: datetime) -> str:
    return pet_named(minutes_between(run.pet_zero, instant))


def _times(item: Any) -> Iterator[datetime]:
    """The times that an item gives: its own, and the one that it corrects an event to."""
    if isinstance(item, dict):
        changes = item.get("changes")
        for at in (item.get("at"), changes.get("at") if isinstance(changes, dict) else None):
            with contextlib.suppress(ValueError, TypeError, AttributeError):
                yield parse_instant(at)  # what is no time is judged by the store
