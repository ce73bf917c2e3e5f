"""Boxed stops: they end at their set length plus an overrun of their own, and no pace stretches them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from dashboard.core.base.times import parse_instant
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.boxed import (
    EARLY_OF_LENGTH,
    EARLY_SHARE,
    OVERRUN_MIN,
    WORTH,
    boxed_draws,
    learn_overrun,
)
from dashboard.core.schedule.expected import expect
from dashboard.core.schedule.plan_pace import project
from tests.scenario import at, log_of, plan_of, task

EVEN = (np.arange(20000) + 0.5) / 20000
STOPS = "".join(task(f"S{i}", "EV1 EV2", 40 * i, 40, boxed=True, shortest=15) for i in range(4))


def record_of(log, pet, text=STOPS):
    return reconcile(plan_of(text), log_of(log), parse_instant(at(pet)))


def survival(minutes, set_min, overrun):
    """P(the whole stop lasts longer), by scipy's uniform and Lomax."""
    early = stats.uniform(set_min * (1 - EARLY_OF_LENGTH), set_min * EARLY_OF_LENGTH).sf(minutes)
    late = stats.lomax(overrun.shape, loc=set_min, scale=overrun.sum_min).sf(minutes)
    return EARLY_SHARE * early + (1 - EARLY_SHARE) * late


@pytest.mark.parametrize("worked", [0.0, 20.0, 38.0, 40.0, 47.0])
def test_what_remains_is_the_whole_given_that_it_was_not_over_yet(worked):
    """P(left > x) = S(worked + x) / S(worked), by scipy."""
    overrun = learn_overrun(record_of("0:00 clock", 0))
    left = boxed_draws(40.0, worked, overrun, EVEN)
    assert left.min() >= 0
    for more in np.linspace(0, 60, 31):
        expected = survival(worked + more, 40.0, overrun) / survival(worked, 40.0, overrun)
        assert (left > more).mean() == pytest.approx(expected, abs=1e-3), more


def test_before_any_stop_is_over_the_overrun_is_the_assumed_one():
    """Its mean over draws, and few that end early."""
    left = boxed_draws(40.0, 0.0, learn_overrun(record_of("0:00 clock", 0)), EVEN)
    assert (left < 40).mean() == pytest.approx(EARLY_SHARE, abs=1e-3)
    assert left[left >= 40].mean() - 40 == pytest.approx(OVERRUN_MIN, rel=0.02)


def test_each_stop_that_is_over_counts_as_one_beside_those_that_the_start_is_worth():
    """Overruns of 12 and 3 min; one that ended early, and one whose start is not known, say nothing."""
    log = "0:00 clock\n0:00 start S0\n0:52 done S0\n0:52 start S1\n1:35 done S1\n1:35 start S2\n2:10 done S2\n2:20 done S3"
    assert learn_overrun(record_of(log, "2:20")).mean_min == pytest.approx((WORTH * OVERRUN_MIN + 12 + 3) / (WORTH + 2))


def test_a_trim_sets_the_length_and_the_overrun_stays():
    """From 40 to 20 min: every draw is 20 min shorter, but for those that end early."""
    whole, cut = (
        expect(record := record_of(log, 0), project(record), draws=4000).finish[0]
        for log in ("0:00 clock", "0:00 clock\n0:00 trim S0 duration=20")
    )
    late = whole >= 40
    assert (whole - cut)[late] == pytest.approx(20.0)
    assert (cut[~late] <= 20.0).all()


def test_a_slow_sortie_does_not_stretch_a_boxed_stop():
    """Six tasks at twice their length: the stop is drawn as before, and hands-on work is not."""
    text = "".join(task(f"T{i}", "EV1", 20 * i, 20) for i in range(7)) + task("S", "EV2", 200, 40, boxed=True)
    slow = "\n".join(f"{40 * i} start T{i}\n{40 * i + 40} done T{i}" for i in range(6))
    lengths = {}
    for name, log, pet in (("fresh", "0:00 clock", 0), ("slow", "0:00 clock\n" + slow, 240)):
        record = record_of(log, pet, text)
        expected = expect(record, project(record), draws=2000)
        row = {task_id: expected.finish[i] - expected.start[i] for i, task_id in enumerate(expected.tasks)}
        lengths[name] = (row["S"], np.median(row["T6"]))
    assert lengths["slow"][0] == pytest.approx(lengths["fresh"][0])
    assert lengths["slow"][1] > 1.3 * lengths["fresh"][1]
