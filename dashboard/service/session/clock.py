"""The clock of a session: the wall clock of a live sortie, or the clock of a replay."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import Literal, Protocol

from replay.player import Direction, Player

LIVE_TICK_S = 2.0
PLAYING_TICK_S = 0.25
PAUSED_TICK_S = 2.0

Mode = Literal["live", "replay", "paused"]


class Clock(Protocol):
    """A source of `now`, with the mode that the screens name."""

    def now(self) -> datetime:
        """The instant of the sortie, aware, in UTC."""

    def mode(self) -> Mode:
        """What the screens say about the clock."""

    def speed(self) -> float:
        """Sortie seconds in one real second."""

    def tick_s(self) -> float:
        """Real seconds between two ticks."""


class LiveClock:
    """The wall clock."""

    def now(self) -> datetime:
        """The instant of the sortie, aware, in UTC."""
        return datetime.now(UTC)

    def mode(self) -> Mode:
        """Always live."""
        return "live"

    def speed(self) -> float:
        """Always 1."""
        return 1.0

    def tick_s(self) -> float:
        """Real seconds between two ticks."""
        return LIVE_TICK_S


class ReplayClock:
    """The clock of a replay, with its controls. Safe to use from several threads.

    Parameters
    ----------
    player : Player
        Where it stands at first.
    marks : sequence of datetime
        The instants that `step` goes through, in order.
    counter_s : callable
        A counter of real seconds.
    """

    def __init__(
        self, player: Player, marks: Sequence[datetime], counter_s: Callable[[], float] = time.monotonic
    ) -> None:
        self._player = player
        self._marks = marks
        self._counter_s = counter_s
        self._lock = threading.Lock()

    @property
    def first(self) -> datetime:
        """Where the run begins."""
        return self._player.first

    @property
    def last(self) -> datetime:
        """Where the run ends."""
        return self._player.last

    @property
    def at_open_end(self) -> bool:
        """Whether it stands at the end of a run that play does not begin anew."""
        return self._player.open_end and self.now() >= self.last

    def now(self) -> datetime:
        """The instant of the sortie, aware, in UTC."""
        return self._player.at(self._counter_s())

    def mode(self) -> Mode:
        """`replay` while it runs; `paused` when told so and at the end of the run."""
        return "replay" if self._player.running(self._counter_s()) else "paused"

    def speed(self) -> float:
        """Sortie seconds in one real second, while it runs."""
        return self._player.speed

    def tick_s(self) -> float:
        """Real seconds between two ticks."""
        return PLAYING_TICK_S if self.mode() == "replay" else PAUSED_TICK_S

    def play(self) -> None:
        """Go on; at the end of the run, unless that is open, from its beginning."""
        self._turn(lambda player, s: player.play(s))

    def pause(self) -> None:
        """Stand still."""
        self._turn(lambda player, s: player.pause(s))

    def seek(self, to: datetime) -> None:
        """Go to an instant of the run."""
        self._turn(lambda player, s: player.seek(s, to))

    def show(self, to: datetime) -> None:
        """Go to an instant of the run and stand still there."""
        self._turn(lambda player, s: player.pause(s).seek(s, to))

    def set_speed(self, speed: float) -> None:
        """Change the speed; ValueError when it is not from 1 to 600."""
        self._turn(lambda player, s: player.with_speed(s, speed))

    def step(self, direction: Direction = "next") -> None:
        """Pause at the next or previous event."""
        self._turn(lambda player, s: player.step(s, self._marks, direction))

    def reach(self, last: datetime, marks: Sequence[datetime]) -> None:
        """The run ends at another instant and has other events now."""
        self._marks = marks
        self._turn(lambda player, s: player.until(s, last))

    def _turn(self, control: Callable[[Player, float], Player]) -> None:
        with self._lock:
            self._player = control(self._player, self._counter_s())
