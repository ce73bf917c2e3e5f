"""State depends on the set of events and on `now`, never on how the events came in."""

from __future__ import annotations

import random
from datetime import timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from dashboard.core.events.kinds import parse_event
from dashboard.core.state.follow import follow
from tests.core.record.test_record import PLAN
from tests.scenario import PET_ZERO, at

TASKS = ["A", "B", "C", "J", "D", "E", "R", "G", "P", "Q", "C1", "C2", "X", "nowhere"]

one_task = st.sampled_from(TASKS)
bodies = st.one_of(
    st.builds(lambda k, t: {"kind": k, "task": t}, st.sampled_from(["start", "done", "break_off"]), one_task),
    st.builds(lambda k, t: {"kind": k, "task": t}, st.sampled_from(["hold", "resume"]), one_task),
    st.builds(lambda k, n: {"kind": k, "lane": n}, st.sampled_from(["hold", "resume"]), st.sampled_from(["EV1", "ARM"])),
    st.builds(lambda k: {"kind": k, "all": True}, st.sampled_from(["hold", "resume"])),
    st.builds(lambda t, m: {"kind": "estimate", "task": t, "remaining": m}, one_task, st.integers(0, 90)),
    st.builds(lambda k, t: {"kind": k, "tasks": [t]}, st.sampled_from(["defer", "reinstate"]), one_task),
    st.builds(lambda t, m: {"kind": "trim", "task": t, "duration": m}, one_task, st.integers(0, 60)),
    st.builds(lambda t, b: {"kind": "move", "task": t, "before": b, "lane": "EV2"}, one_task, one_task),
    st.just({"kind": "insert", "contingency": "leak"}),
    st.just({"kind": "add", "task": {"id": "X", "lanes": ["EV1"], "duration": 9}}),
    st.builds(lambda o: {"kind": "choose", "alternative": "ending", "option": o}, st.sampled_from(["short", "long"])),
    st.builds(lambda w: {"kind": "reading", "suit": "A", "water": w}, st.floats(0, 4)),
    st.builds(lambda n: {"kind": "withdraw", "event": f"e{n}"}, st.integers(0, 30)),
    st.builds(lambda n, m: {"kind": "amend", "event": f"e{n}", "changes": {"at": at(m)}}, st.integers(0, 30),
              st.integers(0, 300)),
    st.just({"kind": "clock"}),
    st.just({"kind": "end"}),
)


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


def seen(events, minute):
    return follow(PLAN, events, PET_ZERO + timedelta(minutes=minute)).model_dump_json()


@settings(max_examples=200, deadline=None)
@given(logs(), st.integers(0, 330), st.randoms(use_true_random=False))
def test_the_order_in_which_events_are_handed_in_does_not_matter(events, minute, shuffler):
    """Any permutation of the same events gives the same state, events at one instant included."""
    shuffled = list(events)
    shuffler.shuffle(shuffled)
    assert seen(shuffled, minute) == seen(events, minute)


@settings(max_examples=200, deadline=None)
@given(logs(distinct_times=True), st.integers(0, 330), st.integers(0, 10**6))
def test_the_order_in_which_events_came_in_does_not_matter(events, minute, seed):
    """The same events received in another order, and so with other `seq`, give the same state."""
    order = list(range(1, len(events) + 1))
    random.Random(seed).shuffle(order)
    renumbered = [e.model_copy(update={"seq": seq}) for e, seq in zip(events, order, strict=True)]
    assert seen(renumbered, minute) == seen(events, minute)


@settings(max_examples=200, deadline=None)
@given(logs(), st.integers(0, 330))
def test_live_state_at_an_instant_equals_replayed_state_at_that_instant(events, minute):
    """What the room saw live, holding only what had come in, is what replay shows of that moment."""
    now = PET_ZERO + timedelta(minutes=minute)
    live_log = []
    for event in sorted(events, key=lambda e: e.seq):  # live: appended one by one, followed at every event
        if event.received > now:
            break
        live_log.append(event)
        live = follow(PLAN, live_log, event.received)
    live = follow(PLAN, live_log, now)
    replayed = follow(PLAN, [e for e in reversed(events) if e.received <= now], now)
    assert live.model_dump_json() == replayed.model_dump_json()


@settings(max_examples=200, deadline=None)
@given(logs(), st.integers(0, 330))
def test_any_log_gives_a_state(events, minute):
    """However odd the log, there is a state; nothing that remains is projected before now."""
    state = follow(PLAN, events, PET_ZERO + timedelta(minutes=minute))
    for name, task in state.tasks.items():
        if task.state == "not started" and task.projected_start_pet_min is not None:
            assert task.projected_start_pet_min >= state.pet_min - 1e-9, name
            assert task.float_min is None or task.float_min >= 0
