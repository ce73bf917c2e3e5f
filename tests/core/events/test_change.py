"""A change is one value: its parts, its mapping, and the events that carry it out."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from dashboard.core.events.change import Change, Part, change_in
from dashboard.core.events.kinds import parse_event
from tests.scenario import at

NAMES = st.sampled_from(["T1", "T2", "T3", "EV1"])
LENGTHS = st.dictionaries(NAMES, st.integers(1, 90).map(float), max_size=2)
CHANGES = st.builds(
    Change, defer=st.lists(NAMES, max_size=3).map(tuple), trim=LENGTHS, extend=LENGTHS,
    break_off=st.lists(NAMES, max_size=2).map(tuple), move=st.dictionaries(NAMES, NAMES, max_size=2),
    choose=st.dictionaries(NAMES, NAMES, max_size=2), order=st.lists(NAMES, max_size=3).map(tuple),
)


@given(CHANGES)
def test_a_change_survives_its_mapping(change: Change) -> None:
    """JSON out and in gives the same value, and so does what a decision keeps as chosen, figures beside it or not."""
    mapping = change.model_dump(mode="json")
    assert Change.model_validate(mapping) == change
    assert change_in({**mapping, "in_by_limit": 0.9, "why": "costs least"}) == change


@given(CHANGES)
def test_the_events_of_a_change_carry_all_of_it(change: Change) -> None:
    """One decision, and one event for each part that a decision does not carry; all of them can be read."""
    events = [parse_event({**raw, "id": f"e{n}", "at": at(10)}) for n, raw in enumerate(change.events("as advised"))]
    decision, *rest = events
    assert decision.kind == "decision" and decision.change() == change
    carried = [Part("defer", t) for t in decision.defer] + [Part("trim", t, m) for t, m in decision.trim.items()]
    for event in rest:
        to = {"extend": "duration", "move": "lane", "choose": "option"}.get(event.kind)
        name = event.alternative if event.kind == "choose" else event.task
        carried.append(Part(event.kind, name, getattr(event, to) if to else None))
    assert sorted(carried, key=repr) == sorted(change.parts(), key=repr)


def test_an_empty_change_has_no_part() -> None:
    """A new order alone is a change, though it is no part."""
    assert Change().is_empty and Change().parts() == []
    assert not Change(order=("T2", "T1")).is_empty and Change(order=("T2", "T1")).count() == 0


def test_a_change_names_each_task_once() -> None:
    """Given twice, deferred once; tasks of every kind of part are named."""
    change = Change(defer=("T1", "T1"), extend={"T2": 30}, move={"T3": "EV1"})
    assert change.defer == ("T1",) and change.tasks() == ("T1", "T2", "T3")
    assert change.and_defer(["T1", "T4"]).defer == ("T1", "T4")
    assert change.without_tasks({"T1", "T3"}) == Change(extend={"T2": 30})


@pytest.mark.parametrize("wrong", [{"defer": ["a b"]}, {"trim": {"T1": -1}}, {"skip": ["T1"]}, {"trim": {"T1": 1e9}}])
def test_a_change_that_makes_no_sense_is_refused(wrong: dict) -> None:
    """And what a decision says of it counts as no change."""
    with pytest.raises(ValidationError):
        Change.model_validate(wrong)
    assert change_in(wrong) == Change()


@pytest.mark.parametrize("chosen", [None, "as said", 3, ["T1"]])
def test_words_are_no_change(chosen: object) -> None:
    """What was chosen may be anything; a change is read only where there is one."""
    assert change_in(chosen) == Change()
