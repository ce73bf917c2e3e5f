"""The clock of a replay: where it stands, how fast it runs, and what play, pause, seek and step do to it.

Pure: a `Player` is a value, the counter of real seconds is handed in, and every control gives a new value.
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
        The run it plays; the clock never leaves them.
    anchor : datetime
        Where the clock stood when it was last set.
    anchor_s : float
        The counter of real seconds at that moment.
    speed : float
        Sortie seconds in one real second, 1 to 600.
    playing : bool
        Whether it was last told to play. At `last` it stands still all the same.
    open_end : bool
        Whether the run is still being made, as in a rehearsal: then play does not begin it anew, and a step with no event
        left leads nowhere.
    """

    first: datetime
    last: datetime
    anchor: datetime
    anchor_s: float
    speed: float = 60.0
    playing: bool = False
    open_end: bool = False

    def at(self, counter_s: float) -> datetime:
        """The instant of the sortie that the clock shows."""
        if not self.playing:
            return self.anchor
        passed_s = max(0.0, counter_s - self.anchor_s) * self.speed
        return self._within(self.anchor + timedelta(seconds=min(passed_s, self._left_s())))

    def running(self, counter_s: float) -> bool:
        """Whether the clock moves."""
        return self.playing and self.at(counter_s) < self.last

    def play(self, counter_s: float) -> Player:
        """Go on; at the end of the run, unless that is open, from its beginning."""
        here = self.at(counter_s)
        anew = here >= self.last and not self.open_end
        return replace(self, anchor=self.first if anew else here, anchor_s=counter_s, playing=True)

    def pause(self, counter_s: float) -> Player:
        """Stand still where the clock is."""
        return replace(self, anchor=self.at(counter_s), anchor_s=counter_s, playing=False)

    def seek(self, counter_s: float, to: datetime) -> Player:
        """Go to an instant, held within the run; plays on if it was playing."""
        return replace(self, anchor=self._within(to), anchor_s=counter_s)

    def until(self, counter_s: float, last: datetime) -> Player:
        """The run ends elsewhere now. A clock that stood at its end stays there."""
        anchor = min(self.at(counter_s), last)
        return replace(self, last=last, anchor=anchor, anchor_s=counter_s, playing=self.running(counter_s))

    def with_speed(self, counter_s: float, speed: float) -> Player:
        """Change the speed without a jump.

        Raises
        ------
        ValueError
            When `speed` is not from 1 to 600.
        """
        if not SLOWEST <= speed <= FASTEST:
            raise ValueError(f"a speed from {SLOWEST:g} to {FASTEST:g}, not {speed:g}")
        return replace(self, anchor=self.at(counter_s), anchor_s=counter_s, speed=float(speed))

    def step(self, counter_s: float, marks: Sequence[datetime], direction: Direction = "next") -> Player:
        """Pause at the next or previous mark; with none left, at the end (unless that is open) or the beginning of the run.

        Parameters
        ----------
        counter_s : float
            The counter of real seconds, now.
        marks : sequence of datetime
            The instants to step through, in order.
        direction : str
            ``next`` or ``previous``.
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
