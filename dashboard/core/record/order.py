"""The order in which events count: (`at`, `seq`), with two exceptions at one instant.

1. A task that was begun earlier finishes before another task starts.
2. A task that was not begun earlier starts before anything else is said of it.

Logs are often kept to the minute. With these exceptions a late entry gives the same state as an entry in turn, and does not
create a false lane-busy discrepancy.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Iterable
from datetime import datetime

from dashboard.core.events.event import Event

Place = tuple[datetime, int, tuple[int, str], int, int, str]


def sort_key(event: Event) -> tuple[datetime, int, str]:
    """Order of an event before the same-instant exceptions; the id decides where no `seq` was given.

    Parameters
    ----------
    event
        Of any kind.

    Returns
    -------
    tuple of (datetime, int, str)
        Its time, its `seq` (0 where none was given) and its id.
    """
    return (event.at, event.seq if event.seq is not None else 0, event.id)


class Order:
    """When the tasks of a log were begun and ended, from which the place of each event follows.

    The place of an event depends only on events of the same instant or before.
    """

    def __init__(self) -> None:
        self._begins: dict[str, list[datetime]] = {}
        self._ends: dict[str, list[datetime]] = {}
        self._own_start: dict[tuple[str, datetime], tuple[int, str]] = {}

    def add(self, events: Iterable[Event]) -> None:
        """Take events into account.

        Parameters
        ----------
        events
            Those that count, in any order, each once.
        """
        for event in events:
            task = event.own_task()
            if task is None:
                continue
            if event.work == "begins":
                insort(self._begins.setdefault(task, []), event.at)
                own = sort_key(event)[1:]
                at_once = (task, event.at)
                self._own_start[at_once] = min(self._own_start.get(at_once, own), own)
            elif event.work == "ends":
                insort(self._ends.setdefault(task, []), event.at)

    def place(self, event: Event) -> Place:
        """The place of an event among those that were added.

        Parameters
        ----------
        event
            One of them.

        Returns
        -------
        tuple
            To sort by; no two events have the same.
        """
        at, seq, event_id = sort_key(event)
        rank, near, after = 1, (seq, event_id), 0
        task = event.own_task()
        if task is not None and event.work != "begins":
            if self._is_open_before(task, at):
                rank = 0 if event.work == "ends" else 1
            elif (start := self._own_start.get((task, at))) is not None and start > near:
                near, after = start, 1
        return (at, rank, near, after, seq, event_id)

    def _is_open_before(self, task: str, at: datetime) -> bool:
        """Whether the task was begun earlier than `at`, and not over again by then."""
        started = self._begins.get(task, [])
        place = bisect_left(started, at)
        over = self._ends.get(task, [])
        return place > 0 and bisect_left(over, at) == bisect_left(over, started[place - 1])
