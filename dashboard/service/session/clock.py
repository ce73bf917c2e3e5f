"""The clock of a session: the time of day in a live sortie, or the clock of a replay."""

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
        """The mode that the screens name."""

    def speed(self) -> float:
        """Sortie seconds per real second."""

    def tick_s(self) -> float:
        """Real seconds between two ticks."""


class LiveClock:
    """The time of day of this computer."""

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
        Its position and speed at first.
    marks : sequence of datetime
        The instants that `step` goes through, in order.
    counter_s : callable
        Gives real seconds that never go back.
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
        """Whether it is at the end of a run that `play` does not start again."""
        return self._player.open_end and self.now() >= self.last

    def now(self) -> datetime:
        """The instant of the sortie, aware, in UTC."""
        return self._player.at(self._counter_s())

    def mode(self) -> Mode:
        """`replay` while it runs; `paused` after `pause` and at the end of the run."""
        return "replay" if self._player.running(self._counter_s()) else "paused"

    def speed(self) -> float:
        """Sortie seconds per real second, while it runs."""
        return self._player.speed

    def tick_s(self) -> float:
        """Real seconds between two ticks."""
        return PLAYING_TICK_S if self.mode() == "replay" else PAUSED_TICK_S

    def play(self) -> None:
        """Run on. At the end of the run start at its beginning, unless the end is open."""
        self._turn(lambda player, s: player.play(s))

    def pause(self) -> None:
        """Stop the clock where it is."""
        self._turn(lambda player, s: player.pause(s))

    def seek(self, to: datetime) -> None:
        """Go to an instant.

        Parameters
        ----------
        to
            The instant; one outside the run is moved to its nearer end.
        """
        self._turn(lambda player, s: player.seek(s, to))

    def show(self, to: datetime) -> None:
        """Go to an instant and pause there.

        Parameters
        ----------
        to
            The instant; one outside the run is moved to its nearer end.
        """
        self._turn(lambda player, s: player.pause(s).seek(s, to))

    def set_speed(self, speed: float) -> None:
        """Change the speed.

        Parameters
        ----------
        speed
            Sortie seconds per real second.

        Raises
        ------
        ValueError
            When it is not from `SLOWEST` to `FASTEST` of `replay.player`.
        """
        self._turn(lambda player, s: player.with_speed(s, speed))

    def step(self, direction: Direction = "next") -> None:
        """Pause at an event.

        Parameters
        ----------
        direction
            To the next event or the previous one. If there is none, the clock pauses at the end or the beginning of the run;
            with an open end it does not move forward.
        """
        self._turn(lambda player, s: player.step(s, self._marks, direction))

    def reach(self, last: datetime, marks: Sequence[datetime]) -> None:
        """Take over a new end and new events of the run.

        Parameters
        ----------
        last
            Where the run ends now.
        marks
            The instants that `step` goes through now, in order.
        """
        self._marks = marks
        self._turn(lambda player, s: player.until(s, last))

    def _turn(self, control: Callable[[Player, float], Player]) -> None:
        with self._lock:
            self._player = control(self._player, self._counter_s())
