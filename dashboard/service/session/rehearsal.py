"""A rehearsal: a recorded run up to a moment, then the decisions of the trainee. It is saved after every entry."""

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
from dashboard.service.session.session import KnownEvents
from dashboard.words import pet_named
from replay.branch import Branch, branched
from replay.recording import RecordedRun

MOVES_PET_ZERO = (
    "PET zero stands as recorded. Moving it would move the whole run, the time before the rehearsal included. "
    "Leave it, or write a note."
)
INSTEAD = "Enter an event that holds from now on."


class RehearsalSession(ReplaySession):
    """A recorded run in which the decisions of the trainee replace the recorded ones from `rehearsed_from` on.

    Parameters
    ----------
    run : RecordedRun
        The recorded run.
    rehearsed_from : datetime
        From when on the trainee decides.
    save : callable
        Called with the branch after every entry, and once at the beginning.
    at : datetime or None
        Where the clock is at first; None: where the rehearsal begins.
    speed : float
        Sortie seconds per real second.
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
        return self._branch.run.rehearsal

    @property
    def rehearsed_from(self) -> datetime:
        return self._rehearsed_from

    def known_at(self, now: datetime) -> KnownEvents:
        run = self._branch.run
        return KnownEvents(run.known_at(now), run.unread_at(now) + self._unread(now))

    def enter(self, items: Sequence[Any], received: datetime) -> list[Outcome]:
        outcomes = super().enter(items, received)
        with self._saving:
            self._rebranch()
        return outcomes

    def barred(self, item: Any, now: datetime) -> str | None:
        return out_of_reach(item, now, self._rehearsed_from, self.run)

    def _event_rows(self, now: datetime) -> dict[tuple[str, int | str], dict[str, Any]]:
        """The events of the branch that the room has at `now`."""
        return {
            ("branch", event.id): event.model_dump(mode="json", by_alias=True, exclude_none=True)
            for event in self._branch.run.known_at(now)
        }

    def _rebranch(self) -> None:
        self._branch = branched(self.run, self._rehearsed_from, self._entered())
        self._save(self._branch)
        self.clock.reach(self._branch.last, self._branch.marks)


def out_of_reach(item: Any, now: datetime, rehearsed_from: datetime, run: RecordedRun) -> str | None:
    """Why an item may not be entered in a rehearsal.

    It may not be entered when the board shows the time before the rehearsal, when the item has a time before it or answers an
    event before it, or when it would move PET zero.

    Parameters
    ----------
    item
        The item, not checked: a value decoded from JSON.
    now
        The instant that the board shows.
    rehearsed_from
        Where the rehearsal begins.
    run
        The recorded run.

    Returns
    -------
    str or None
        The reason, with what to do; None: it may be entered.
    """
    begins = _pet_text(run, rehearsed_from)
    if now < rehearsed_from:
        shown = _pet_text(run, now)
        return f"the board shows {shown}, but the rehearsal begins at {begins}. Go to a moment from then on to enter events."
    answered = _answered(item, run)
    if _field(item, "kind") == "clock" or (answered is not None and isinstance(answered, ClockSet)):
        return MOVES_PET_ZERO
    if answered is not None and (answered.came_in <= rehearsed_from or answered.at < rehearsed_from):
        what = f"the event {answered.id} ({answered.kind}, {_pet_text(run, answered.at)})"
        return f"{what} is before the rehearsal, which begins at {begins}; the time before stands as recorded. {INSTEAD}"
    early = [at for at in _times(item) if at < rehearsed_from]
    if early:
        found = _pet_text(run, early[0])
        return f"its time is {found}, and the rehearsal begins at {begins}; the time before stands as recorded. Give a later one."
    return None


def _answered(item: Any, run: RecordedRun) -> Event | None:
    """The recorded event that an item amends or withdraws; None: the item is no answer, or answers an event of the trainee."""
    if _field(item, "kind") not in ANSWERS:
        return None
    return next((event for event in run.events if event.id == _field(item, "event")), None)


def _field(item: Any, key: str) -> Any:
    """One field of an unchecked item; None: it does not have the field."""
    return item.get(key) if isinstance(item, dict) else None


def _pet_text(run: RecordedRun, instant: datetime) -> str:
    return pet_named(minutes_between(run.pet_zero, instant))


def _times(item: Any) -> Iterator[datetime]:
    """The times in an item: its own, and the corrected time of the event that it amends."""
    if isinstance(item, dict):
        changes = item.get("changes")
        for at in (item.get("at"), changes.get("at") if isinstance(changes, dict) else None):
            with contextlib.suppress(ValueError, TypeError, AttributeError):
                yield parse_instant(at)  # the store judges text that is not a time
