"""The replay of a recorded run, with the events that people enter during it.

Entered events stay in memory; the recorded run never changes. Their `seq` is above every `seq` of the run, so that they
count after the recorded events of the same instant.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from dashboard.core.base.findings import Unread
from dashboard.core.base.times import instant_text, minutes_between, parse_instant
from dashboard.core.events.event import Event
from dashboard.log.store import EventStore, Outcome
from dashboard.service.session.clock import ReplayClock
from dashboard.service.session.control import ReplayControl, control_replay
from dashboard.service.session.session import KnownEvents, Session
from replay.player import Player
from replay.recording import RecordedRun

REPLAY_SPEED = 60.0


class ReplaySession(Session):
    """A recorded run, and the events that people enter during its replay.

    Parameters
    ----------
    run : RecordedRun
        The recorded run.
    at : datetime or None
        Where the clock is at first; moved into the run if it is outside. None: where the room received PET zero.
    speed : float
        Sortie seconds per real second.
    playing : bool
        Whether the clock runs at first.
    """

    run: RecordedRun
    clock: ReplayClock
    open_end = False  # whether the run can still grow, so that play at its end does not start it again

    def __init__(
        self, run: RecordedRun, *, at: datetime | None = None, speed: float = REPLAY_SPEED, playing: bool = True
    ) -> None:
        self.plan, self.run = run.plan, run
        start = min(max(at or run.pet_zero_known, run.first), run.last)
        player = Player(run.first, run.last, start, time.monotonic(), speed, playing, open_end=self.open_end)
        self.clock = ReplayClock(player, run.marks)
        self._recorded = {event.id: event for event in run.events}
        self._highest_seq = max((event.seq or 0 for event in run.events), default=0)
        self._overlay = EventStore("sqlite://")
        self._entries = 0
        self._lock = threading.Lock()
        self._cursors: dict[tuple[str, int | str], int] = {}
        self._last_cursor = 0

    @property
    def rehearsal(self) -> str:
        return self.run.rehearsal

    @property
    def rehearsed_from(self) -> datetime | None:
        """From when on the trainee decides; None: this is not a rehearsal."""
        return None

    def known_at(self, now: datetime) -> KnownEvents:
        entered = [event for event in self._entered() if event.came_in <= now]
        return KnownEvents(self.run.known_at(now) + entered, self.run.unread_at(now) + self._unread(now))

    def enter(self, items: Sequence[Any], received: datetime) -> list[Outcome]:
        # An item with the id of a recorded event and another content is kept among the unread lines, as in a live sortie.
        outcomes = self._overlay.append(items, received, also=self._recorded)
        self._entries += 1
        return [
            outcome
            if outcome.status == "already recorded" and outcome.id in self._recorded
            else replace(outcome, seq=self._highest_seq + outcome.seq)
            for outcome in outcomes
        ]

    def taken(self) -> Mapping[str, Event]:
        return {**{event.id: event for event in self._entered()}, **self._recorded}

    def rows_after(self, cursor: int, now: datetime) -> list[dict[str, Any]]:
        # A row gets the next cursor when the replay reaches it. When the clock is set back before the row, the row loses its
        # cursor, and it gets a new one when the replay reaches it again. So no reader misses a row, however the clock is set.
        rows = self._rows(now)
        with self._lock:
            self._cursors = {key: at for key, at in self._cursors.items() if key in rows}
            new = [key for key in rows if key not in self._cursors]
            for key in sorted(new, key=lambda key: _received(rows[key])):
                self._last_cursor += 1
                self._cursors[key] = self._last_cursor
            wanted = sorted((at, key) for key, at in self._cursors.items() if at > cursor)
        return [{**rows[key], "cursor": at} for at, key in wanted]

    def close(self) -> None:
        self._overlay.close()

    @property
    def run_ends(self) -> datetime:
        return self.clock.last

    def whole_run(self) -> list[Event]:
        return self.known_at(self.run_ends).events

    def control(self, wanted: ReplayControl) -> None:
        decisions = [e.came_in for e in self.whole_run() if e.is_decision] if wanted.to == "decision" else []
        control_replay(self.clock, wanted, self.run.pet_zero, sorted(decisions))

    def run_words(self) -> dict[str, str]:
        run = self.run
        return {"title": run.title, "date": run.date, "setting": run.setting, "rehearsal": self.rehearsal}

    def replay_bar(self, now: datetime) -> dict[str, Any]:
        zero, clock, rehearsed_from = self.run.pet_zero, self.clock, self.rehearsed_from
        return {
            "from": instant_text(clock.first),
            "to": instant_text(clock.last),
            "at": instant_text(now),
            "from_pet_min": minutes_between(zero, clock.first),
            "to_pet_min": minutes_between(zero, clock.last),
            "at_pet_min": minutes_between(zero, now),
            "counts_from": self.run.counts_from,
            "rehearsed_from_pet_min": None if rehearsed_from is None else minutes_between(zero, rehearsed_from),
            "entries": self._entries,
        }

    def _entered(self) -> list[Event]:
        return [
            event.model_copy(update={"seq": self._highest_seq + (event.seq or 0)}) for event in self._overlay.events()
        ]

    def _rows(self, now: datetime) -> dict[tuple[str, int | str], dict[str, Any]]:
        """Rows that the room has at `now`, by their source and their place in it."""
        rows = self._event_rows(now)
        for place, (since, unread) in enumerate(self.run.unread):
            if since is None or since <= now:
                received = None if since is None else instant_text(since)
                rows["line", place] = {"received": received, "line": unread.line, "why": unread.why}
        for row in self._overlay_rows(now):
            if "line" in row:
                rows["entered", row["seq"]] = row
        return rows

    def _event_rows(self, now: datetime) -> dict[tuple[str, int | str], dict[str, Any]]:
        """Rows of the events that the room has at `now`."""
        rows: dict[tuple[str, int | str], dict[str, Any]] = {
            ("run", place): _plain(event) for place, event in enumerate(self.run.known_at(now))
        }
        rows.update({("entered", row["seq"]): row for row in self._overlay_rows(now) if "line" not in row})
        return rows

    def _overlay_rows(self, now: datetime) -> list[dict[str, Any]]:
        """Rows of the items entered up to `now`."""
        rows = self._overlay.rows_after(0)
        return [{**row, "seq": self._highest_seq + row["seq"]} for row in rows if parse_instant(row["received"]) <= now]

    def _unread(self, now: datetime) -> list[Unread]:
        if not self._overlay.unread():
            return []
        return [
            Unread(line=row["line"], why=row["why"], where=f"entered, seq {row['seq']}")
            for row in self._overlay_rows(now)
            if "line" in row
        ]


def _plain(event: Event) -> dict[str, Any]:
    return event.model_dump(mode="json", by_alias=True, exclude_none=True)


def _received(row: dict[str, Any]) -> datetime:
    """When a row came in; a row without this time counts as there from the beginning."""
    return parse_instant(row["received"]) if row.get("received") else datetime.min.replace(tzinfo=UTC)
