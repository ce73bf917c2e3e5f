"""A rehearsal: a recorded run up to a moment, then with the trainee's own decisions; saved after every entry."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from typing import Any

from dashboard.core.base.times import minutes_between, parse_instant
from dashboard.core.events.clock import ClockSet
from dashboard.core.events.event import Event
from dashboard.log.store import Outcome
from dashboard.service.access.roles import ANSWERS
from dashboard.service.session.replay import REPLAY_SPEED, ReplaySession
from dashboard.service.session.session import Known
from dashboard.words import pet_named
from replay.branch import Branch, branched
from replay.recording import RecordedRun

MOVES_PET_ZERO = (
    "PET zero stands as recorded: to move it would move the whole run, the time before the rehearsal included. "
    "Leave it, or say what you mean in a note."
)
INSTEAD = "Enter what is so from now on."


class RehearsalSession(ReplaySession):
    """A recorded run with recorded decisions left out from `rehearsed_from` on, and the trainee's own in their place.

    Parameters
    ----------
    run : RecordedRun
    rehearsed_from : datetime
        From when on the trainee decides.
    save : callable
        Given the branch after every entry, and once at the beginning.
    at : datetime or None
        Where the clock stands at first; None: where the rehearsal begins.
    speed : float
        Sortie seconds in one real second.
    playing : bool
        Whether the clock runs at first.
    """

    open_end = True

    def __init__(
        self, run: RecordedRun, rehearsed_from: datetime, save: Callable[[Branch], None], *,
        at: datetime | None = None, speed: float = REPLAY_SPEED, playing: bool = False,
    ) -> None:
        super().__init__(run, at=at or rehearsed_from, speed=speed, playing=playing)
        self._rehearsed_from, self._save = rehearsed_from, save
        self._saving = threading.Lock()
        self._rebranch()

    @property
    def rehearsal(self) -> str:
        """Of which run it is a rehearsal, and from when."""
        return self._branch.run.rehearsal

    @property
    def rehearsed_from(self) -> datetime:
        """From when on the trainee decides."""
        return self._rehearsed_from

    def known_at(self, now: datetime) -> Known:
        """What the room of the branch has at `now`."""
        run = self._branch.run
        return Known(run.known_at(now), run.unread_at(now) + self._unread(now))

    def enter(self, items: Sequence[Any], received: datetime) -> list[Outcome]:
        """Take the trainee's events; the branch is judged again and saved."""
        outcomes = super().enter(items, received)
        with self._saving:
            self._rebranch()
        return outcomes

    def barred(self, item: Any, now: datetime) -> str | None:
        """Why an item would change the time before the rehearsal; None: it does not."""
        return out_of_reach(item, now, self._rehearsed_from, self.run)

    def _event_rows(self, now: datetime) -> dict[tuple[str, int | str], dict[str, Any]]:
        """The events that the room of the branch has at `now`."""
        return {
            ("branch", event.id): event.model_dump(mode="json", by_alias=True, exclude_none=True)
            for event in self._branch.run.known_at(now)
        }

    def _rebranch(self) -> None:
        self._branch = branched(self.run, self._rehearsed_from, self._entered())
        self._save(self._branch)
        self.clock.reach(self._branch.last, self._branch.marks)


def out_of_reach(item: Any, now: datetime, rehearsed_from: datetime, run: RecordedRun) -> str | None:
    """Why an item may not be entered in a rehearsal of `run`; None: it may.

    It may not when it is entered in the time before the rehearsal, speaks of that time, answers an event of it, or would
    move PET zero.
    """
    begins = _pet_text(run, rehearsed_from)
    if now < rehearsed_from:
        shown = _pet_text(run, now)
        return f"the board shows {shown}, and the rehearsal begins at {begins}: before it there is only to look. Go on to it."
    answered = _answered(item, run)
    if _field(item, "kind") == "clock" or (answered is not None and isinstance(answered, ClockSet)):
        return MOVES_PET_ZERO
    if answered is not None and (answered.came_in <= rehearsed_from or answered.at < rehearsed_from):
        what = f"the event {answered.id} ({answered.kind}, {_pet_text(run, answered.at)})"
        return f"{what} is of before the rehearsal, which begins at {begins}; what was before stands as recorded. {INSTEAD}"
    early = [at for at in _times(item) if at < rehearsed_from]
    if early:
        found = _pet_text(run, early[0])
        return f"this is of {found}, and the rehearsal begins at {begins}; what was before stands as recorded. Give a later time."
    return None


def _answered(item: Any, run: RecordedRun) -> Event | None:
    """The recorded event that an item amends or withdraws; None: it does neither, or answers one of the trainee's."""
    if _field(item, "kind") not in ANSWERS:
        return None
    return next((event for event in run.events if event.id == _field(item, "event")), None)


def _field(item: Any, key: str) -> Any:
    """One field of an item as it came; None: it has none."""
    return item.get(key) if isinstance(item, dict) else None


def _pet_text(run: RecordedRun, instant: datetime) -> str:
    return pet_named(minutes_between(run.pet_zero, instant))


def _times(item: Any) -> Iterator[datetime]:
    """The times that an item gives: its own, and the one that it corrects an event to."""
    if isinstance(item, dict):
        changes = item.get("changes")
        for at in (item.get("at"), changes.get("at") if isinstance(changes, dict) else None):
            with contextlib.suppress(ValueError, TypeError, AttributeError):
                yield parse_instant(at)  # what is no time is judged by the store
