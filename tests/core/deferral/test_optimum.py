"""The optimiser finds the true lexicographic optimum."""

from __future__ import annotations

import pytest

from dashboard.core.deferral.advise import advise
from dashboard.core.deferral.change import Change
from dashboard.core.deferral.validate import faults
from dashboard.core.reconcile import reconcile
from dashboard.core.times import parse_instant
from tests.core.deferral.plans import START, best_by_trying_all, random_plan, rank


@pytest.mark.parametrize("trims", [False, True], ids=["whole", "with trims"])
@pytest.mark.parametrize("block", range(15))
def test_the_optimum_is_that_of_trying_every_subset(trims, block):
    """On 300 random plans the advice has exactly the rank of the best of all subsets, or says there is none."""
    for seed in range(block * 10, block * 10 + 10):
        record = reconcile(random_plan(seed, trims=trims), [], parse_instant(START))
        best = best_by_trying_all(record)
        first = advise(record, basis="plan-pace", on_demand=True).proposals[0]
        if best is None:
            assert not first.reached, seed
            continue
        assert first.reached, seed
        assert first.proven, seed
        assert rank(record, first.figures.change, first.figures.end_pet_min) == pytest.approx(best, abs=2e-3), seed
        assert faults(record, first.figures.change, record.plan.sortie.limit) == []


def test_the_validator_sees_what_is_wrong():
    """It is no rubber stamp: a required task given up, a follower left behind, and an end past the limit are named."""
    for seed in range(200):
        plan = random_plan(seed, trims=False)
        record = reconcile(plan, [], parse_instant(START))
        required = [t.id for t in plan.tasks if t.required]
        parents = {needed for t in plan.tasks for needed in t.after}
        if required and parents:
            break
    assert "required" in " ".join(faults(record, Change(defer=(required[0],)), 1e6))
    assert "limit" in " ".join(faults(record, Change(), 1.0))
