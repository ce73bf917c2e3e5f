"""The clock of a replay: its time, its speed, and the controls play, pause, seek and step.

A `Player` is a value. The caller passes a counter of real seconds, and every control returns a new `Player`.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Literal

SLOWEST = 1.0
FASTEST = 600.0

Direction = Literal["next", "previous"]


@dataclass(frozen=True)
class Player:
    """The clock of a replay.

    Parameters
    ----------
    first, last : datetime
        Begin and end of the run; the clock stays between them.
    anchor : datetime
        The time of the clock when it was last set.
    anchor_s : float
        The counter of real seconds at that moment.
    speed : float
        Sortie seconds per real second, 1 to 600.
    playing : bool
        Whether play was pressed last. At `last` the clock stops even then.
    open_end : bool
        Whether the run is still growing, as in a rehearsal. Then play at its end does not start it again, and a step beyond
        its last event does nothing.
    """

    first: datetime
    last: datetime
    anchor: datetime
    anchor_s: float
    speed: float = 60.0
    playing: bool = False
    open_end: bool = False

    def at(self, counter_s: float) -> datetime:
        """The instant of the sortie that the clock shows.

        Parameters
        ----------
        counter_s
            The counter of real seconds, now.

        Returns
        -------
        datetime
            Within the run.
        """
        if not self.playing:
            return self.anchor
        passed_s = max(0.0, counter_s - self.anchor_s) * self.speed
        return self._within(self.anchor + timedelta(seconds=min(passed_s, self._left_s())))

    def running(self, counter_s: float) -> bool:
        """Whether the clock moves.

        Parameters
        ----------
        counter_s
            The counter of real seconds, now.

        Returns
        -------
        bool
            False when it is paused, and once it has reached the end of the run.
        """
        return self.playing and self.at(counter_s) < self.last

    def play(self, counter_s: float) -> Player:
        """Play. At the end of a run without an open end, play from its beginning.

        Parameters
        ----------
        counter_s
            The counter of real seconds, now.

        Returns
        -------
        Player
        """
        here = self.at(counter_s)
        anew = here >= self.last and not self.open_end
        return replace(self, anchor=self.first if anew else here, anchor_s=counter_s, playing=True)

    def pause(self, counter_s: float) -> Player:
        """Stop the clock at its current time.

        Parameters
        ----------
        counter_s
            The counter of real seconds, now.

        Returns
        -------
        Player
        """
        return replace(self, anchor=self.at(counter_s), anchor_s=counter_s, playing=False)

    def seek(self, counter_s: float, to: datetime) -> Player:
        """Set the clock to an instant, limited to the run. A clock that plays continues to play.

        Parameters
        ----------
        counter_s
            The counter of real seconds, now.
        to
            Aware; an instant outside the run gives its nearer end.

        Returns
        -------
        Player
        """
        return replace(self, anchor=self._within(to), anchor_s=counter_s)

    def until(self, counter_s: float, last: datetime) -> Player:
        """Give the run a new end. A clock that had stopped at the old end stays there.

        Parameters
        ----------
        counter_s
            The counter of real seconds, now.
        last
            The new end; aware.

        Returns
        -------
        Player
        """
        anchor = min(self.at(counter_s), last)
        return replace(self, last=last, anchor=anchor, anchor_s=counter_s, playing=self.running(counter_s))

    def with_speed(self, counter_s: float, speed: float) -> Player:
        """Change the speed without changing the time of the clock.

        Parameters
        ----------
        counter_s : float
            The counter of real seconds, now.
        speed : float
            Sortie seconds per real second.

        Returns
        -------
        Player

        Raises
        ------
        ValueError
            When `speed` is not from 1 to 600.
        """
        if not SLOWEST <= speed <= FASTEST:
            raise ValueError(f"a speed from {SLOWEST:g} to {FASTEST:g}, not {speed:g}")
        return replace(self, anchor=self.at(counter_s), anchor_s=counter_s, speed=float(speed))

    def step(self, counter_s: float, marks: Sequence[datetime], direction: Direction = "next") -> Player:
        """Pause at the next or previous mark.

        If there is none, pause at the end or the beginning of the run; with an open end, do not move forward.

        Parameters
        ----------
        counter_s : float
            The counter of real seconds, now.
        marks : sequence of datetime
            The instants to step through, in order.
        direction : str
            ``next`` or ``previous``.

        Returns
        -------
        Player
        """
        here = self.at(counter_s)
        if direction == "next":
            place = bisect_right(marks, here)
            target = marks[place] if place < len(marks) else here if self.open_end else self.last
        else:
            place = bisect_left(marks, here) - 1
            target = marks[place] if place >= 0 else self.first
        return replace(self, anchor=self._within(target), anchor_s=counter_s, playing=False)

    def _left_s(self) -> float:
        return (self.last - self.anchor).total_seconds()

    def _within(self, instant: datetime) -> datetime:
        return min(max(instant, self.first), self.last)
