"""What the verbs of events do to a record, where several kinds of event share it."""

from __future__ import annotations

from datetime import UTC, datetime

from dashboard.core.record.fold import reconcile
from dashboard.core.record.writer import RecordWriter
from tests.core.events.examples import example
from tests.core.sorties import PLAN


def empty():
    record = reconcile(PLAN, [], datetime(2031, 4, 12, 9, 10, tzinfo=UTC))
    return record, RecordWriter(record)


def test_a_verb_brings_in_the_task_of_a_contingency_that_it_names():
    """Ahead of everything that remains; a task that nobody knows does nothing."""
    record, writer = empty()
    writer.mark(example("note"), "C1")
    writer.mark(example("note"), "nowhere")
    assert (record.runs["C1"].origin, record.runs["C1"].events, record.order[0]) == ("contingency", ["e9"], "C1")
    assert "nowhere" not in record.runs and "nowhere" not in record.order


def test_a_step_tells_whether_the_state_changed():
    """A refused one is listed and changes nothing."""
    record, writer = empty()
    assert writer.step(example("start", task="A"), "A", "start")
    assert not writer.step(example("start", task="A"), "A", "start")
    assert [one.found for one in record.discrepancies] == ["start of A, which is in work"]
    assert record.runs["A"].state == "in work"


def test_a_new_length_sets_a_longer_estimate_aside_and_keeps_a_shorter_one():
    """What was estimated to run beyond it cannot."""
    record, writer = empty()
    writer.start(example("start", task="A"), "A", None)
    for remaining_min, kept in ((40, False), (5, True)):
        writer.estimate(example("estimate"), "A", remaining_min)
        writer.set_length(example("trim"), "A", 20)
        assert (record.runs["A"].whole_by_estimate_min is not None) is kept
    assert (record.runs["A"].planned_min, record.runs["A"].length_set) == (20, True)
