"""The chance that the room will see later, from a regression over the draws."""

from __future__ import annotations

import numpy as np
import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.likely_then import chance_then
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.expected import expect
from dashboard.core.schedule.plan_pace import project
from tests.core.deferral.cases import LANES
from tests.scenario import at, log_of, plan_of, task

TABLES = "".join(task(f"T{i}", "EV1", 20 * i, [14, 20, 40]) for i in range(6)) + task("D", "EV2", 0, [30, 40, 60])


def seen(pet: float, *, draws: int = 4000):
    """The chance that the room sees at a PET, who is in time, and all that it was made from."""
    record = reconcile(plan_of(LANES + TABLES), log_of("0:00 clock"), parse_instant(at("0:00")))
    before = project(record)
    expected = expect(record, before, draws=draws)
    in_time = (expected.end <= np.quantile(expected.end, 0.7)).astype(float)
    return chance_then(record, before, expected, in_time, pet), in_time, expected


def test_now_the_room_sees_the_same_in_every_draw() -> None:
    """Nothing more is known: 70 % throughout."""
    chance, in_time, _ = seen(0.0)
    assert chance == pytest.approx(np.full(len(chance), in_time.mean()), abs=1e-6)


def test_later_it_sees_more_and_is_right_on_average() -> None:
    """Its mean stays near 70 %, while it tells the draws apart better and better."""
    told_apart = []
    for pet in (20, 60, 100):
        chance, in_time, _ = seen(pet)
        assert chance.mean() == pytest.approx(in_time.mean(), abs=0.04)
        told_apart.append(chance[in_time == 1].mean() - chance[in_time == 0].mean())
    assert told_apart[0] < told_apart[1] < told_apart[2]
    assert told_apart[2] > 2 * told_apart[0] > 0


def test_what_it_sees_comes_true() -> None:
    """Of the draws in which it sees 80 to 95 % at 1:00, about so many are in time."""
    chance, in_time, _ = seen(60, draws=8000)
    some = (chance > 0.8) & (chance < 0.95)
    assert some.sum() > 300
    assert in_time[some].mean() == pytest.approx(chance[some].mean(), abs=0.1)


def test_nothing_of_the_future_is_used() -> None:
    """Lengths of work that begins later do not change what is seen: all draws that agree until then see the same."""
    record = reconcile(plan_of(LANES + TABLES), log_of("0:00 clock"), parse_instant(at("0:00")))
    before = project(record)
    expected = expect(record, before, draws=500)
    in_time = (expected.end <= np.median(expected.end)).astype(float)
    plain = chance_then(record, before, expected, in_time, 30.0)
    for i, task_id in enumerate(expected.tasks):
        if before.slots[task_id].start_pet_min > 60:
            expected.finishes[i] = expected.finishes[i] + 50
            expected.starts[i] = expected.starts[i] + 20
    assert chance_then(record, before, expected, in_time, 30.0) == pytest.approx(plain, abs=1e-9)
