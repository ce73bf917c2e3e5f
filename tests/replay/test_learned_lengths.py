"""The learned lengths of a plan, as its checks take them."""

from __future__ import annotations

import pytest

from replay.learn import fit, observations
from replay.learned_lengths import learned_lengths
from tests.replay.runs import PLAN, run_of

SLOW = "0:00 clock\n0:00 start T010\n1:00 done T010\n"


def test_what_ran_longer_is_learned_longer():
    """T010 took twice its brief in five runs; the task itself counts five, and what no run tells of is left out."""
    learned = fit(observations([(f"r{n}", run_of(SLOW)) for n in range(5)]))
    found = learned_lengths(PLAN, learned)
    one = found["T010"]
    assert 30 < one.low_min < one.median_min < one.high_min and (one.tasks, one.runs) == (5, 5)
    assert one.high_min / one.median_min == pytest.approx(one.median_min / one.low_min)
    assert "T040" not in found
