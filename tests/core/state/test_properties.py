"""State depends on the set of events and on `now`, never on how the events came in."""

from __future__ import annotations

import random
from datetime import timedelta

import pytest
from hypothesis import Phase, find, given, settings
from hypothesis import strategies as st

from dashboard.core.events.event import Event
from dashboard.core.events.kinds import KINDS, UnreadableEvent, parse_event
from dashboard.core.state.follow import follow
from tests.core.sorties import PLAN
from tests.scenario import PET_ZERO, at

TASKS = ["A", "B", "C", "J", "D", "E", "R", "G", "P", "Q", "C1", "C2", "X", "nowhere"]

one_task, one_lane = st.sampled_from(TASKS), st.sampled_from(["EV1", "EV2", "ARM"])
MINUTES, EVENT = st.integers(0, 60), st.integers(0, 30).map(lambda number: f"e{number}")

# What the fields of events are filled with. A field that stands here under no name fails the first test.
VALUES = {
    "task": one_task, "lane": one_lane, "lanes": st.lists(one_lane, min_size=1, max_size=2, unique=True), "all": st.booleans(),
    "tasks": st.lists(one_task, min_size=1, max_size=2), "defer": st.lists(one_task, max_size=2), "before": one_task,
    "trim": st.dictionaries(one_task, MINUTES, max_size=2), "duration": MINUTES, "remaining": st.integers(0, 90),
    "contingency": st.just("leak"), "alternative": st.just("ending"), "option": st.sampled_from(["short", "long"]),
    "suit": st.just("A"), "oxygen": st.floats(0, 1), "co2": st.floats(0, 1), "battery": st.floats(0, 500),
    "water": st.floats(0, 4), "check": st.just("suit-read"), "text": st.just("as said"), "reason": st.just("glove"),
    "chosen": st.none(), "figures": st.none(), "event": EVENT,
    "changes": st.integers(0, 300).map(lambda minute: {"at": at(minute)}),
}  # fmt: skip
OF_A_KIND = {("add", "task"): st.just({"id": "X", "lanes": ["EV1"], "duration": 9})}


def bodies_of(kind):
    """Events of a kind by the fields of its class: the required ones, and any of the others."""
    own = {name: field for name, field in KINDS[kind].model_fields.items() if name not in Event.model_fields}
    values = {name: OF_A_KIND.get((kind, name), VALUES[name]) for name in own}
    required = {name: values[name] for name, field in own.items() if field.is_required()}
    optional = {name: value for name, value in values.items() if name not in required}
    filled = st.fixed_dictionaries({"kind": st.just(kind), **required}, optional=optional)
    return filled.filter(lambda body: is_read({"id": "e", "at": at("0:00"), **body}))


def is_read(body):
    try:
        return parse_event(body) is not None
    except UnreadableEvent:
        return False


bodies = st.sampled_from(sorted(KINDS)).flatmap(bodies_of)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_event_is_drawn(kind):
    """The strategy of a kind is made of the fields of its class."""
    first = settings(phases=[Phase.generate], database=None)  # the first that is drawn; a simpler one proves no more
    assert find(bodies_of(kind), lambda body: True, settings=first)["kind"] == kind


@st.composite
def logs(draw, distinct_times=False):
    """A log of up to 30 events, in the order received, each received soon or late after it happened."""
    found = draw(st.lists(bodies, min_size=1, max_size=30))
    minutes = draw(
        st.lists(st.integers(0, 300), min_size=len(found), max_size=len(found), unique=distinct_times)
    )
    if distinct_times:  # an amended time must not fall on another event's instant either
        found = [
            {**body, "changes": {"at": at(draw(st.integers(0, 300)) + (i + 1) / 1000)}} if "changes" in body else body
            for i, body in enumerate(found)
        ]
    delays = draw(st.lists(st.integers(0, 60), min_size=len(found), max_size=len(found)))
    raw = [
        {"id": f"e{i}", "at": at(m), "received": at(m + d), **body}
        for i, (body, m, d) in enumerate(zip(found, minutes, delays, strict=True))
    ]
    raw.sort(key=lambda r: r["received"])
    return [parse_event({**r, "seq": seq}) for seq, r in enumerate(raw, start=1)]


DRAWS = 100  # the percentiles are part of the state, and rest on the same draws however many they are


def seen(events, minute):
    return follow(PLAN, events, PET_ZERO + timedelta(minutes=minute), draws=DRAWS).model_dump_json()


@given(logs(), st.integers(0, 330), st.randoms(use_true_random=False))
def test_the_order_in_which_events_are_handed_in_does_not_matter(events, minute, shuffler):
    """Any permutation of the same events gives the same state, events at one instant included."""
    shuffled = list(events)
    shuffler.shuffle(shuffled)
    assert seen(shuffled, minute) == seen(events, minute)


@given(logs(distinct_times=True), st.integers(0, 330), st.integers(0, 10**6))
def test_the_order_in_which_events_came_in_does_not_matter(events, minute, seed):
    """The same events received in another order, and so with other `seq`, give the same state."""
    order = list(range(1, len(events) + 1))
    random.Random(seed).shuffle(order)
    renumbered = [e.model_copy(update={"seq": seq}) for e, seq in zip(events, order, strict=True)]
    assert seen(renumbered, minute) == seen(events, minute)


@given(logs(), st.integers(0, 330))
def test_live_state_at_an_instant_equals_replayed_state_at_that_instant(events, minute):
    """What the room saw live, holding only what had come in, is what replay shows of that moment."""
    now = PET_ZERO + timedelta(minutes=minute)
    live_log = []
    for event in sorted(events, key=lambda e: e.seq):  # live: appended one by one, followed at every event
        if event.received > now:
            break
        live_log.append(event)
        follow(PLAN, live_log, event.received, draws=0)
    live = follow(PLAN, live_log, now, draws=DRAWS)
    replayed = follow(PLAN, [e for e in reversed(events) if e.received <= now], now, draws=DRAWS)
    assert live.model_dump_json() == replayed.model_dump_json()


@given(logs(), st.integers(0, 330))
def test_any_log_gives_a_state(events, minute):
    """However odd the log, there is a state; nothing that remains is projected before now."""
    state = follow(PLAN, events, PET_ZERO + timedelta(minutes=minute), draws=DRAWS)
    for name, task in state.tasks.items():
        if task.state == "not started" and task.projected_start_pet_min is not None:
            assert task.projected_start_pet_min >= state.pet_min - 1e-9, name
            assert task.float_min is None or task.float_min >= 0
