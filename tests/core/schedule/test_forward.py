"""The forward pass: the rules one by one, and the same answers for single numbers and for arrays of draws."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.core.plan.model import Window
from dashboard.core.schedule.forward import Work, forward
from dashboard.core.schedule.windows import windows_by_kind

LANES = ("EV1", "EV2", "ARM")
DAY = windows_by_kind([Window(kind="day", from_=30, to=60), Window(kind="day", from_=120, to=180)])


def passed(order, lengths, now=0.0, free=None, finished=None, windows=DAY):
    """Everything placed, by task, and when each lane is free again."""
    lane_free = dict(free or {})
    placed = forward(
        order, lengths.__getitem__, now_pet_min=now, lane_free_pet_min=lane_free, finished_pet_min=finished or {}, windows=windows
    )
    return {one.work.task: one for one in placed}, lane_free


def starts(*order, lengths, **more):
    return {task: one.start_pet_min for task, one in passed(order, lengths, **more)[0].items()}


def test_a_lane_takes_its_work_in_the_order_given():
    """One after the other from now on; a lane that is free later holds its work until then."""
    order = Work("A", ("EV1",)), Work("B", ("EV1",)), Work("C", ("EV2",))
    assert starts(*order, lengths={"A": 10, "B": 5, "C": 1}, now=7.0, free={"EV2": 20}) == {"A": 7, "B": 17, "C": 20}


def test_joint_work_waits_for_its_last_lane_and_occupies_both():
    """J waits for EV2; what comes next in either lane waits for J."""
    order = Work("A", ("EV1",)), Work("B", ("EV2",)), Work("J", ("EV1", "EV2")), Work("C", ("EV1",))
    assert starts(*order, lengths={"A": 10, "B": 30, "J": 5, "C": 1}) == {"A": 0, "B": 0, "J": 30, "C": 35}


def test_work_waits_for_what_it_comes_after_plus_lag():
    """For placed and for finished tasks; a task that is neither does not hold it back."""
    order = Work("A", ("EV1",)), Work("B", ("EV2",), [("A", 3.0), ("D", 0.0)]), Work("C", ("ARM",), [("done", 25.0)])
    assert starts(*order, lengths={"A": 10, "B": 5, "C": 1}, finished={"done": 2.0}) == {"A": 0, "B": 13, "C": 27}


def test_work_in_hand_keeps_its_start_and_its_lanes_wait_for_the_longest():
    """Two tasks in hand in one lane; the next begins when both are over, whatever window the first two need."""
    order = Work("A", ("EV1",), begins_pet_min=5.0, needs=["day"]), Work("B", ("EV1",), begins_pet_min=5.0), Work("C", ("EV1",))
    assert starts(*order, lengths={"A": 20, "B": 8, "C": 1}, now=5.0) == {"A": 5, "B": 5, "C": 25}


def test_work_waits_for_its_own_time_and_for_the_end_of_its_hold():
    """The later of the two decides."""
    order = Work("A", ("EV1",), not_before_pet_min=40.0), Work("B", ("EV2",), not_before_pet_min=40.0, held_until_pet_min=50.0)
    assert starts(*order, lengths={"A": 1, "B": 1}) == {"A": 40, "B": 50}


@pytest.mark.parametrize(("length", "start", "missed"), [(20, 35, False), (40, 120, False), (70, 35, True)])
def test_work_that_needs_a_window_lies_wholly_inside_the_first_that_holds_it(length, start, missed):
    """Where none does it starts as if it needed none, and that is said."""
    placed = passed([Work("A", ("EV1",), needs=["day"])], {"A": length}, now=35.0)[0]["A"]
    assert (placed.start_pet_min, placed.window_missed, placed.ready_pet_min) == (start, missed, 35)


def test_afterwards_it_is_known_when_each_lane_is_free():
    """A lane without work keeps its time; a negative length gives time back."""
    order = Work("A", ("EV1",)), Work("less", ("EV1",)), Work("B", ("EV1", "EV2"))
    placed, free = passed(order, {"A": 10, "less": -4, "B": 5}, free={"ARM": 3.0})
    assert placed["B"].start_pet_min == 6
    assert free == {"EV1": 11, "EV2": 11, "ARM": 3}


def test_what_a_start_waits_for_is_listed_with_its_times():
    """Now, tasks, lanes, its own time and its hold, in the order in which they are named."""
    order = Work("A", ("EV1",)), Work("B", ("EV1",), [("A", 2.0)], not_before_pet_min=4.0, held_until_pet_min=5.0)
    bounds = passed(order, {"A": 10, "B": 1})[0]["B"].bounds
    assert [tuple(bound) for bound in bounds] == [
        ("now", None, 0), ("task", "A", 12), ("lane", "EV1", 10), ("not before", None, 4), ("hold", None, 5)
    ]


minutes = st.integers(0, 60).map(float)


@st.composite
def orders(draw: Any) -> dict[str, Any]:
    """Random work in three lanes with everything that may hold it back, windows of two kinds, and lengths."""
    order, names = [], ["over"]
    for i in range(draw(st.integers(1, 8))):
        links = draw(st.lists(st.tuples(st.sampled_from(names), st.integers(0, 9).map(float)), max_size=2))
        in_hand = i < 2 and draw(st.booleans())
        order.append(Work(
            f"T{i}", tuple(draw(st.lists(st.sampled_from(LANES), unique=True, min_size=1, max_size=2))),
            () if in_hand else links, begins_pet_min=10.0 if in_hand else None,
            not_before_pet_min=draw(st.none() | minutes), held_until_pet_min=draw(st.none() | minutes),
            needs=draw(st.lists(st.sampled_from(("day", "contact")), unique=True)),
        ))
        names.append(f"T{i}")
    table = draw(st.lists(st.tuples(st.sampled_from(("day", "contact")), minutes, st.integers(1, 90)), max_size=6))
    return {
        "order": order, "free": draw(st.dictionaries(st.sampled_from(LANES), minutes)), "now": 10.0, "finished": {"over": 8.0},
        "windows": windows_by_kind([Window(kind=kind, from_=3 * begin, to=3 * begin + more) for kind, begin, more in table]),
    }


@given(orders(), st.data())
def test_an_array_of_draws_gives_what_each_draw_gives_alone(given_work, data):
    """Starts, finishes, missed windows and lanes: element by element those of the pass over single numbers, to the last bit."""
    draws = 4
    some = st.lists(st.floats(0, 60), min_size=draws, max_size=draws).map(np.array)
    lengths = {work.task: data.draw(some) for work in given_work["order"]}
    together, free = passed(lengths=lengths, **given_work)
    for k in range(draws):
        alone, free_alone = passed(lengths={task: float(row[k]) for task, row in lengths.items()}, **given_work)
        for task, one in alone.items():
            many = together[task]
            for name in ("ready_pet_min", "start_pet_min", "finish_pet_min", "window_missed"):
                assert np.broadcast_to(getattr(many, name), draws)[k] == getattr(one, name), (task, name)
        assert {lane: np.broadcast_to(at, draws)[k] for lane, at in free.items()} == free_alone


@given(orders(), st.data())
def test_constant_lengths_give_the_same_in_every_draw(given_work, data):
    """An array of equal lengths, holds and lane times gives the single-number pass in all its elements."""
    lengths = {work.task: data.draw(minutes) for work in given_work["order"]}
    alone, _ = passed(lengths=lengths, **given_work)
    held = [
        work._replace(held_until_pet_min=None if work.held_until_pet_min is None else np.full(3, work.held_until_pet_min))
        for work in given_work["order"]
    ]
    as_arrays = {
        **given_work, "order": held, "free": {lane: np.full(3, at) for lane, at in given_work["free"].items()},
        "lengths": {task: np.full(3, length) for task, length in lengths.items()},
    }
    for task, one in passed(**as_arrays)[0].items():
        assert np.broadcast_to(one.start_pet_min, 3).tolist() == [alone[task].start_pet_min] * 3
        assert one.finish_pet_min.tolist() == [alone[task].finish_pet_min] * 3
