"""An index of a log that grows: it is that of the whole log, and each event is read once."""

from __future__ import annotations

from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from dashboard.core.events.add import Add
from dashboard.core.events.answers import Answer
from dashboard.core.events.clock import ClockSet
from dashboard.service.log_index import LogIndex, has_grown_from
from tests.scenario import log_of

LINES = (
    "0:01 note text=x", "0:00 clock", "0:02 start A", "0:03 withdraw e2", '0:04 amend e1 changes={"text":"y"}',
    '0:05 add {"id":"X","lanes":["EV1"],"duration":5}',
)  # fmt: skip


class Read:
    """An event that counts how often it is read."""

    seq = None

    def __init__(self) -> None:
        self.times = 0

    @property
    def id(self) -> str:
        self.times += 1
        return str(id(self))


@given(st.lists(st.lists(st.sampled_from(LINES), max_size=5), max_size=6), st.data())
@settings(max_examples=30, deadline=None)
def test_it_is_always_that_of_the_whole_log(parts: list[list[str]], data: Any):
    """However the log grows; and where another log comes in its place."""
    index, lines, events = LogIndex(), [], []
    for part in parts:
        if data.draw(st.booleans()):
            lines = lines[: data.draw(st.integers(0, len(lines)))]
            events = [event.model_copy() for event in events[: len(lines)]]
        lines = [*lines, *part]
        events = [*events, *log_of("\n".join(lines))[len(events):]]
        index.read(events)
        assert dict(index.by_id) == {event.id: event for event in events}
        assert index.last_seq == max((event.seq for event in events), default=0)
        assert index.leading == [event for event in events if isinstance(event, Add | Answer | ClockSet)]


def test_each_event_is_read_once():
    """A long log costs nothing once more for each entry."""
    index, events = LogIndex(), [Read() for _ in range(5)]
    index.read(events[:3])
    index.read(events[:3])
    index.read(events)
    assert [event.times for event in events] == [1] * 5


def test_another_log_is_not_taken_for_one_that_grew():
    """It may begin otherwise, be shorter, or hold copies."""
    events = log_of("\n".join(LINES))
    assert has_grown_from(events, events[:2]) and has_grown_from(events, events) and has_grown_from(events, [])
    assert not has_grown_from(events[1:], events[:2])
    assert not has_grown_from(events[:2], events)
    assert not has_grown_from([*events[:1], events[1].model_copy()], events[:2])
