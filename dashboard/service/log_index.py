"""Finds events of a growing log without reading the whole log each time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from dashboard.core.events.add import Add
from dashboard.core.events.answers import Answer
from dashboard.core.events.clock import ClockSet
from dashboard.core.events.event import Event


def has_grown_from(events: Sequence[Event], before: Sequence[Event]) -> bool:
    """Whether events are those of before, and then maybe more. This is fast: only the very same objects count.

    Parameters
    ----------
    events
        Those of now.
    before
        Those of an earlier time.

    Returns
    -------
    bool
        True also when nothing came in since.
    """
    had = len(before)
    return not had or (len(events) >= had and events[had - 1] is before[-1] and events[:had] == before)


class LogIndex:
    """An index of the events that it was shown last. Not safe to use from several threads at once."""

    def __init__(self) -> None:
        self._events: list[Event] = []
        self._by_id: dict[str, Event] = {}
        self._leading: list[Event] = []
        self._last_seq = 0

    def read(self, events: list[Event]) -> None:
        """Index these events and no others.

        Parameters
        ----------
        events
            As a rule those of the last time and then what came in since; only the latter are read then.
        """
        had = len(self._events)
        if not has_grown_from(events, self._events):
            had, self._last_seq = 0, 0
            self._by_id, self._leading = {}, []
        for event in events[had:]:
            self._by_id[event.id] = event
            self._last_seq = max(self._last_seq, event.seq or 0)
            if isinstance(event, Add | Answer | ClockSet):
                self._leading.append(event)
        self._events = events

    @property
    def by_id(self) -> Mapping[str, Event]:
        """Event id -> event. It changes at the next `read`."""
        return MappingProxyType(self._by_id)

    @property
    def last_seq(self) -> int:
        """The highest `seq`; 0 when there is none."""
        return self._last_seq

    @property
    def leading(self) -> list[Event]:
        """The events by which others are judged: those that set PET zero, that add tasks, and that answer other events."""
        return self._leading
